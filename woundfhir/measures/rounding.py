"""How many digits of a measure a reader sees: never more than were measured."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Context, Decimal

from woundfhir.language import decimal_mark
from woundfhir.measures.texts import say
from woundfhir.record.units import to_unit

_TENTH, _HUNDREDTH = Decimal("0.1"), Decimal("0.01")
#: Wide enough for any size that a record can hold, and its own: the caller's decimal context changes no word.
_WIDE = Context(prec=80, rounding=ROUND_HALF_UP)
#: An area or a volume of two sides of one digit each keeps two: with one digit 1.3 by 1.1 inches would be 9 cm2.
_LEAST = 2


def converted_digits(written: Decimal, unit: str, wanted: str) -> int | None:
    """Return how many significant digits a quantity keeps in another unit; None where conversion adds none.

    Between metric units the point only moves. From another unit the digits that were written are kept, and one more
    where the first digit becomes smaller, so that nothing is lost either (NIST Special Publication 811, 2008, B.7.1;
    from memory).

    Parameters
    ----------
    written
        The number as charted.
    unit, wanted
        UCUM codes.

    Examples
    --------
    >>> [converted_digits(Decimal(text), "[in_i]", "cm") for text in ("1.5", "2", "0.5", "4")]
    [2, 1, 2, 2]
    >>> converted_digits(Decimal("41"), "mm", "cm") is None
    True
    """
    factor = to_unit(Decimal(1), unit, wanted)
    if not written or factor.normalize().as_tuple().digits == (1,):
        return None
    digits = written.as_tuple().digits
    return len(digits) + ((written * factor).as_tuple().digits[0] < digits[0])


def fewest(*digits: int | None) -> int | None:
    """Return how many digits a product of sides keeps; None where none of them was converted.

    Examples
    --------
    >>> fewest(3, 4), fewest(1, None), fewest(None, None)
    (3, 2, None)
    """
    known = [count for count in digits if count is not None]
    return max(min(known), _LEAST) if known else None


def rounded(value: Decimal, digits: int | None) -> Decimal:
    """Return a value with at most so many significant digits, half up; as it is where ``digits`` is None.

    Examples
    --------
    >>> rounded(Decimal("3.81"), 2), rounded(Decimal("254.0"), 2), rounded(Decimal("4.10"), None)
    (Decimal('3.8'), Decimal('250'), Decimal('4.10'))
    """
    if digits is None or not value:
        return value
    last = Decimal(1).scaleb(value.adjusted() - digits + 1)
    return Decimal(f"{value.quantize(last, context=_WIDE):f}") if last > value.copy_abs().scaleb(-80) else value


def length_text(value: Decimal | None, digits: int | None = None) -> str:
    """Return a length in cm for a reader, without its unit; nothing where there is none.

    Examples
    --------
    >>> length_text(Decimal("4.10")), length_text(Decimal("3.81"), 2), length_text(None)
    ('4.10', '3.8', '')
    """
    return "" if value is None else decimal_mark(f"{rounded(value, digits):f}")


def area_number(area: Decimal, digits: int | None = None) -> Decimal:
    """Return an area in cm2 as a reader sees it: to a tenth from 10 on and to a hundredth below, half up.

    Parameters
    ----------
    area
        In cm2.
    digits
        Significant digits, where the sides were converted; see ``converted_digits``.

    Examples
    --------
    >>> area_number(Decimal("20.8000")), area_number(Decimal("9.6774"), 2), area_number(Decimal("0.245"))
    (Decimal('20.8'), Decimal('9.7'), Decimal('0.25'))
    """
    if digits is not None:
        return rounded(area, digits)
    return area.quantize(_TENTH if area >= 10 else _HUNDREDTH, context=_WIDE) if area else Decimal(0)


def area_text(area: Decimal, digits: int | None = None) -> str:
    """Return an area for a reader.

    Examples
    --------
    >>> area_text(Decimal("20.8000")), area_text(Decimal("9.6774"), 2), area_text(Decimal(0))
    ('20.8 cm²', '9.7 cm²', '0 cm²')
    """
    return decimal_mark(f"{area_number(area, digits):f}") + " cm\u00b2"


def volume_text(volume: Decimal, digits: int | None = None) -> str:
    """Return a volume for a reader, rounded as an area is.

    Examples
    --------
    >>> volume_text(Decimal("7.848"))
    '7.85 cm³'
    """
    return decimal_mark(f"{area_number(volume, digits):f}") + " cm\u00b3"


def to_places(value: Decimal | None, places: int = 2) -> Decimal | None:
    """Return a number with so many decimal places, half up as for every reader; None stays None.

    Examples
    --------
    >>> to_places(Decimal("-12.345")), to_places(Decimal("0.25"), 1), to_places(None)
    (Decimal('-12.35'), Decimal('0.3'), None)
    """
    return None if value is None else value.quantize(Decimal(1).scaleb(-places), context=_WIDE)


def percent_text(change: Decimal | None) -> str:
    """Return a change for a reader, to whole per cent, half up; never "unchanged" for what has changed.

    Examples
    --------
    >>> percent_text(Decimal("-68.5")), percent_text(Decimal("0.2")), percent_text(Decimal(0)), percent_text(None)
    ('69 % smaller', 'less than 1 % larger', 'unchanged', 'not computed')
    """
    if change is None:
        return say("measures.not_computed")
    if not change:
        return say("measures.unchanged")
    way = say("measures.smaller" if change < 0 else "measures.larger")
    size = abs(change)
    if size < 1:
        return say("measures.less_than_one", way=way)
    return say("measures.percent", number=f"{size.quantize(Decimal(1), context=_WIDE):f}", way=way)
