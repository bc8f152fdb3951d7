"""The JOSE library against the published numbers: RFC 7515 appendices A and E, RFC 7516 appendix A, RFC 7520, RFC 8037.

Here the library alone is asked; what this toolkit makes of the same numbers stands in test_seal and test_secrecy.
"""

from __future__ import annotations

import base64
import hashlib

import pytest
from joserfc import jwe, jws
from joserfc.errors import JoseError
from joserfc.jwk import KeySet, import_key

from tests.jose import vectors

# -- signatures ------------------------------------------------------------------------------------

_ALL = ["HS256", "RS256", "ES256", "ES512", "EdDSA"]
_NAMED = {one["name"]: one for one in vectors.vectors()["jws"]}


@pytest.mark.filterwarnings("ignore:EdDSA is deprecated")
@pytest.mark.parametrize("name", _NAMED)
def test_the_library_accepts_the_published_signatures(name: str) -> None:
    one = _NAMED[name]
    key = import_key(one["key"])
    assert jws.deserialize_compact(one["compact"], key, algorithms=[one["alg"]]).protected["alg"] == one["alg"]
    changed = one["compact"][:-8] + ("AAAAAAAA" if not one["compact"].endswith("AAAAAAAA") else "BBBBBBBB")
    with pytest.raises(JoseError):
        jws.deserialize_compact(changed, key, algorithms=[one["alg"]])


@pytest.mark.filterwarnings("ignore:EdDSA is deprecated")
@pytest.mark.parametrize("name", ["RFC 7515 A.2", "RFC 8037 A.4"])
def test_the_library_makes_the_published_signatures(name: str) -> None:
    """Only those that draw no random numbers. (The header of A.1 holds a line break, which no library writes.)"""
    one = _NAMED[name]
    payload = one["compact"].split(".")[1]
    content = base64.urlsafe_b64decode(payload + "=" * (-len(payload) % 4))
    made = jws.serialize_compact({"alg": one["alg"]}, content, import_key(one["key"]), algorithms=[one["alg"]])
    assert made == one["compact"]


@pytest.mark.filterwarnings("ignore:JWS algorithm")
def test_the_library_reads_the_json_forms_the_unsigned_one_and_refuses_an_unknown_critical_header() -> None:
    general, flat = vectors.vectors()["jws_general"], vectors.vectors()["jws_flattened"]  # RFC 7515 A.6, A.7
    keys = KeySet.import_key_set({"keys": general["keys"]})
    assert len(jws.deserialize_json(general["json"], keys, algorithms=_ALL).members) == 2  # type: ignore[attr-defined]
    assert jws.deserialize_json(flat["json"], import_key(flat["key"]), algorithms=_ALL)
    unsigned = vectors.vectors()["jws_none"]["compact"]  # RFC 7515 A.5
    assert jws.deserialize_compact(unsigned, None, algorithms=["none"])
    with pytest.raises(JoseError):  # RFC 7515 E
        jws.deserialize_compact(vectors.vectors()["jws_critical"]["compact"], None, algorithms=["none"])


# -- encryption ------------------------------------------------------------------------------------

_FILES = {one["name"]: one for one in vectors.vectors()["jwe"]}


def sha256(content: bytes | None) -> str:
    assert content is not None
    return hashlib.sha256(content).hexdigest()


@pytest.mark.filterwarnings("ignore:JWE algorithm")
@pytest.mark.parametrize("name", _FILES)
def test_the_library_opens_the_published_files(name: str) -> None:
    one = _FILES[name]
    found = jwe.decrypt_compact(one["compact"], import_key(one["key"]), algorithms=[one["alg"], one["enc"]])
    assert sha256(found.plaintext) == one["sha256"]
    head, key, start, content, tag = one["compact"].split(".")
    changed = ".".join((head, key, start, ("A" if content[0] != "A" else "B") + content[1:], tag))
    with pytest.raises(JoseError):
        jwe.decrypt_compact(changed, import_key(one["key"]), algorithms=[one["alg"], one["enc"]])


@pytest.mark.filterwarnings("ignore:JWE algorithm")
def test_the_library_opens_the_published_json_forms() -> None:
    algorithms = ["RSA1_5", "A128KW", "A128CBC-HS256"]
    general, flat = vectors.vectors()["jwe_general"], vectors.vectors()["jwe_flattened"]  # RFC 7516 A.4, A.5
    keys = KeySet.import_key_set({"keys": general["keys"]})
    assert sha256(jwe.decrypt_json(general["json"], keys, algorithms=algorithms).plaintext) == general["sha256"]
    key = import_key(flat["key"])
    assert sha256(jwe.decrypt_json(flat["json"], key, algorithms=algorithms).plaintext) == flat["sha256"]
