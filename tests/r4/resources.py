"""Hypothesis strategies for FHIR resources as plain dicts, made from what R4 defines: any type, any element."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import Any

from hypothesis import strategies as st

from woundfhir.limits import fits
from woundfhir.r4.definitions import Element, elements, primitive, resource_types

Json = Any

#: Every character that XML has (XML 1.0, production 2), blanks at the ends and line ends among them.
text = st.one_of(
    st.sampled_from(
        [" two blanks ", "\n", "a\tb\r\nc", "<b>&amp;", "\"'", "ünïcödé", "\u00a0", "]]>", "<!-- -->", "<?x?>"]
    ),
    st.text(st.characters(codec="utf-8", exclude_characters="\ufffe\uffff"), min_size=1, max_size=9).filter(
        lambda t: not any(ord(c) < 32 and c not in "\t\n\r" for c in t)
    ),
)
numbers = st.one_of(
    st.sampled_from(["4.10", "0.0", "-0.50", "1E+2", "4", "100", "1.0E-30", "0.00000001", "123456789012345678901.10"]),
    st.decimals(allow_nan=False, allow_infinity=False, min_value=-9999, max_value=9999).filter(fits).map(str),
).map(lambda t: int(t) if t.lstrip("-").isdigit() and t != "-0" else Decimal(t))
_divs = st.sampled_from(
    [
        '<div xmlns="http://www.w3.org/1999/xhtml"><p>Left leg: 4 &lt; 5 cm</p></div>',
        '<div xmlns="http://www.w3.org/1999/xhtml">a<br />b<br/>c<hr></hr></div>',
        "<div xmlns='http://www.w3.org/1999/xhtml' xml:lang='fr'>\n  <b>&#233;&#xE9;</b>\t<i class=\"x\"> </i></div>",
        "<div xmlns=\"http://www.w3.org/1999/xhtml\"><!-- unsaid --><p><b>&quot;x&quot; &amp; 'y'</b></p></div >",
        '<h:div xmlns:h="http://www.w3.org/1999/xhtml"><h:p title="a&#10;b">'
        'x<div xmlns="http://www.w3.org/1999/xhtml">in</div></h:p></h:div>',
    ]
)
_values: dict[str, st.SearchStrategy[Json]] = {
    "string": text,
    "boolean": st.booleans(),
    "integer": st.integers(-(2**31), 2**31 - 1),
    "number": numbers,
}


@st.composite
def members(draw: st.DrawFn, kind: str, depth: int) -> dict[str, Json]:
    """Some members of a type, in the order that R4 gives."""
    known = elements(kind)
    # extensions may stand anywhere and nest in each other: few of them, or nothing else is drawn
    names = [n for n, e in known.items() if depth > 0 or e.parted or e.attribute or e.type == "xhtml"]
    count = draw(st.integers(1, 3))
    chosen = {draw(st.sampled_from(names)) for _ in range(count)}
    if kind == "Extension":
        chosen.add("url")
    made: dict[str, Json] = {}
    for name in (name for name in known if name in chosen):
        made.update(draw(_member(known[name], depth)))
    return made or {"id": "x"}


def _member(spec: Element, depth: int) -> st.SearchStrategy[dict[str, Json]]:
    if spec.parted:
        return _parted(spec, depth)
    one: st.SearchStrategy[Json]
    if spec.attribute:
        one = text
    elif spec.type == "xhtml":
        one = _divs
    elif spec.type == "Resource":
        one = resources(depth - 1)
    else:
        one = members(spec.type, depth - 1)
    return (st.lists(one, min_size=1, max_size=2) if spec.many else one).map(lambda value: {spec.name: value})


@st.composite
def _parted(draw: st.DrawFn, spec: Element, depth: int) -> dict[str, Json]:
    """A primitive: its value, its id and extensions, or both; in a list the two lists have one length."""
    value = _values[primitive(spec.type) or ""]
    beside = members("Element", min(depth - 1, 1)) if depth > 0 else st.just({"id": "y"})
    ways = [(True, False), (True, False), (True, True), (False, True)]
    pairs = [
        (draw(value) if has_value else None, draw(beside) if has_beside else None)
        for has_value, has_beside in draw(st.lists(st.sampled_from(ways), min_size=1, max_size=3 if spec.many else 1))
    ]
    made: dict[str, Json] = {}
    for key, items in ((spec.name, [p[0] for p in pairs]), ("_" + spec.name, [p[1] for p in pairs])):
        if any(item is not None for item in items):
            made[key] = items if spec.many else items[0]
    return made


def resources(
    depth: int = 3, kinds: Callable[[], frozenset[str]] = resource_types
) -> st.SearchStrategy[dict[str, Json]]:
    """A resource of any type of R4; ``depth`` levels of complex members inside."""

    def of(kind: str) -> st.SearchStrategy[dict[str, Json]]:
        return members(kind, depth).map(lambda made: {"resourceType": kind, **made})

    return st.sampled_from(sorted(kinds())).flatmap(of)
