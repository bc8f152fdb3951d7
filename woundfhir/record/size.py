"""Sizes as people write them in one text: ``4,2 x 3,1 cm``, ``L 4.2 cm x W 3 cm``, ``Wound size: 4.2 x 3 x 1 cm``."""

from __future__ import annotations

import re

from woundfhir.catalogue import catalogue

_BY = re.compile(r"\s*(?:[x×*X]|\bby\b|\bpar\b|\bsur\b)\s*")
#: What stands behind the number of a part: its unit.
_UNIT = re.compile(r"[^\d.,\s~<>≤≥≈].*$")
#: Keys of the measures in the order in which they are written (common practice, no source).
_ORDER = ("length", "width", "depth")
_LETTERS = {"l": "length", "w": "width", "d": "depth", "p": "depth"}
_NAMES = r"length|width|depth|longueur|largeur|profondeur|[lwdp]"
_WORDS = {"longueur": "length", "largeur": "width", "profondeur": "depth"}
_PART = re.compile(
    rf"(?:(?P<before>{_NAMES})\.?\s*[:=]?\s*(?=[<>\d]))?(?P<number>[<>]?\s*\d+(?:[.,]\d+)?)\s*"
    rf"(?P<unit>[a-zµ\"]+?)?\s*(?:\(?(?P<after>{_NAMES})\)?)?\.?",
    re.I,
)
#: What a size of a wound is called, in English and French (nurses' words; common practice, no source).
_OF = r"(?:(?:pressure )?(?:wound|ulcer|injury|lesion)|wound bed)"
_NAMED = re.compile(
    rf"(?:{_OF}(?:'s)? |l ?x ?w(?: ?x ?d)? )?(?:size|dimensions?|measurements?)(?: of (?:the )?{_OF})?"
    r"|(?:taille|dimensions?|mesures?)(?: (?:de la|de l'|du) ?(?:plaie|ulc[eè]re|l[eé]sion))?",
    re.I,
)
_AROUND = re.compile(r"\s*\((?:[lwdp](?:ength|idth|epth)?\s*[x×*/]\s*)+[lwdp](?:ength|idth|epth)?\)", re.I)
#: What a text is called that may hold the size behind its own name.
_ABOUT = re.compile(rf"{_OF} (?:assessment|evaluation|findings?|note|observation)|assessment|findings?", re.I)
_EACH = re.compile(r"l(?:ength)?\s*[x×*]\s*w(?:idth)?(?:\s*[x×*]\s*d(?:epth)?)?", re.I)


def split_size(text: str) -> list[str]:
    """Return the parts of a size: ``4,2 x 3,1 cm`` has two; a number without a unit has that of the next with one.

    Examples
    --------
    >>> split_size("4,2 x 3,1 cm"), split_size("4.2cm X 3cm x 1 cm"), split_size("4")
    (['4,2 cm', '3,1 cm'], ['4.2cm', '3cm', '1 cm'], ['4'])
    >>> split_size("6,5 x 5 cm x 2 mm")
    ['6,5 cm', '5 cm', '2 mm']
    """
    parts = [part.strip() for part in _BY.split(text)]
    unit = ""
    for at in range(len(parts) - 1, -1, -1):
        behind = _UNIT.search(parts[at])
        if behind is not None:
            unit = behind[0]
        elif unit and len(parts) > 1:
            parts[at] = f"{parts[at]} {unit}"
    return parts


def names_size(text: str) -> bool:
    """Whether words are what the size of a wound is called, and nothing else.

    Examples
    --------
    >>> [names_size(text) for text in ("Wound size (L x W)", "L x W", "Taille de la plaie", "Dressing size")]
    [True, True, True, False]
    """
    plain = " ".join(_AROUND.sub("", text).split()).rstrip(" :.")
    return _NAMED.fullmatch(plain) is not None or _EACH.fullmatch(plain) is not None


def read_size(text: str) -> dict[str, str]:
    """Return the measures of a size in one text, by key; empty where any part of it is not sure.

    Without letters they are length, width and depth in this order. Every number needs a unit of length.

    Examples
    --------
    >>> read_size("4,2 x 3,1 cm"), read_size("W 3cm x L 4.2cm"), read_size("4.2 x 3")
    ({'length': '4.2 cm', 'width': '3.1 cm'}, {'length': '4.2 cm', 'width': '3 cm'}, {})
    """
    parts = split_size(text.strip())
    if not 2 <= len(parts) <= len(_ORDER):
        return {}
    found: list[tuple[str, str]] = []
    for part in parts:
        match = _PART.fullmatch(part)
        unit = (match["unit"] or "") if match is not None else ""
        name = (match["before"] or match["after"] or "").lower() if match is not None else ""
        if match is None or catalogue().units.get(unit.lower()) not in ("cm", "mm", "[in_i]"):
            return {}
        number = match["number"].replace(" ", "")
        if re.search(r",\d{3}$", number):  # "1,250" could be two numbers
            return {}
        found.append((_WORDS.get(name, _LETTERS.get(name[:1], "")), f"{number.replace(',', '.')} {unit.lower()}"))
    names = [name for name, _ in found]
    if not any(names):
        return dict(zip(_ORDER, (said for _, said in found), strict=False))
    return {key: dict(found)[key] for key in _ORDER if key in names} if len({*names} - {""}) == len(found) else {}


def worded_size(name: str, value: str | None) -> dict[str, str]:
    """Return the measures of a text that a name, or words before a colon, call the size of a wound.

    Parameters
    ----------
    name
        What the text is called; it may hold the size itself, behind a colon.
    value
        The text; None where there is none.

    Examples
    --------
    >>> worded_size("Wound size", "4.2 x 3 cm"), worded_size("Wound size: 4.2 x 3 cm", None)
    ({'length': '4.2 cm', 'width': '3 cm'}, {'length': '4.2 cm', 'width': '3 cm'})
    >>> worded_size("Dressing size", "10 x 10 cm"), worded_size("Goal", "wound size: 4 x 3 cm")
    ({}, {})
    """
    text = name if value is None else value
    head, colon, tail = text.partition(":")
    if colon and names_size(head):
        about = value is None or names_size(name) or _ABOUT.fullmatch(name.strip()) is not None
        return read_size(tail) if about else {}
    return read_size(text) if value is not None and names_size(name) else {}
