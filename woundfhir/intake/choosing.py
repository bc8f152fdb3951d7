"""One client out of many: by number, or by an identifier."""

from __future__ import annotations

from collections.abc import Sequence

from woundfhir.errors import InputError
from woundfhir.intake.inputs import Input
from woundfhir.record.clients import CHOOSE, ONE_PERSON, is_placeholder


def chosen(found: Sequence[Input], wanted: str | None) -> list[Input]:
    """Return the inputs of the client who is wanted; all of them where nobody is.

    Parameters
    ----------
    found
        One history a client.
    wanted
        A number (``2``, ``#2``), the value of an identifier, or its system and value (``urn:example:card|417``).

    Raises
    ------
    InputError
        When it names nobody, or could name two clients. Says how many there are; never an identifier.
    """
    if wanted is None:
        return list(found)
    found = [one for one in found if one.of_client]
    by_name = [one for one in found if _has(one, wanted.strip())]
    number = wanted.strip().removeprefix("#")
    by_number = [one for at, one in enumerate(found, 1) if number == str(at)]
    if wanted.strip().startswith("#") or not by_name:
        fits = by_number
    elif by_number and by_number != by_name:
        wrong = "it is the number of one client and an identifier of another"
        raise InputError("--patient", "one client", "Write #2 for the second, or system|value", found=wrong)
    else:
        fits = by_name
    if len(fits) == 1:
        return fits
    wrong = f"of the {len(found)} clients here, {len(fits) or 'none'} fits"
    raise InputError(
        "--patient", f"a number from 1 to {len(found)}, or an identifier that one of them has", _FIX, found=wrong
    )


_FIX = "Write the number of the client in the order in which they stand, such as 2, or system|value"


def one_client(found: Sequence[Input], wanted: str | None, where: str = "IN", *, each: bool = False) -> Input:
    """Return the one client who is wanted; ``each`` is whether a folder could take what is made of each of them.

    Raises
    ------
    InputError
        When there are several, and none is chosen: says how many there are, and how to choose.
    """
    some = chosen([one for one in found if one.of_client] or found, wanted)
    if len(some) != 1:
        wrong = f"the records of {len(some)} clients or files are here"
        fix = f"{ONE_PERSON}. Or name one file. {CHOOSE}"
        if each:
            fix = f"{ONE_PERSON}. Or name one file; or a folder with -o, for a document of each client. {CHOOSE}"
        raise InputError(where, "the record of one client", fix, found=wrong)
    return some[0]


def _has(one: Input, wanted: str) -> bool:
    for identifier in one.history.patient.get("identifiers", ()):
        system, value = identifier.get("system", ""), identifier.get("value")
        if not is_placeholder(value) and wanted in (value, f"{system}|{value}"):
            return True
    return False
