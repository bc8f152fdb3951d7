"""The one base of the project's own codes, profiles and extensions."""

#: Permanent. An identifier and no address: it need not resolve (NOTICE).
BASE = "https://w3id.org/woundfhir"
#: The system in which the catalogue's own entries are codes: a concept by its path, an answer by list/word.
PATHS = f"{BASE}/catalogue"
