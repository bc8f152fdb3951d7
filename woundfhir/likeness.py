"""How alike two spellings are, and the known one that a misspelt one is nearest to.

Alike is what letters they share in the same order: twice the longest common subsequence, in per cent of the letters
of both. Unlike ``difflib``, it finds the longest one, and does not depend on which of the two comes first.
"""

from __future__ import annotations

from collections.abc import Iterable


def shared(one: str, other: str) -> int:
    """Return how many letters two texts have in common in the same order: their longest common subsequence.

    By bits, one step a letter: Hyyrö (2004), Bit-parallel LCS-length computation revisited.

    Examples
    --------
    >>> shared("lenght", "length"), shared("abc", "")
    (5, 0)
    """
    places: dict[str, int] = {}
    for number, letter in enumerate(one):
        places[letter] = places.get(letter, 0) | 1 << number
    every = (1 << len(one)) - 1
    left = every
    for letter in other:
        met = left & places.get(letter, 0)
        left = ((left + met) | (left - met)) & every
    return len(one) - left.bit_count()


def nearest(word: str, known: Iterable[str], alike: int) -> tuple[str, int] | None:
    """Return the known spelling that a word is nearest to, and how alike they are; the first of equals.

    Parameters
    ----------
    alike
        How alike they must be at least, in per cent.

    Returns
    -------
    tuple[str, int] | None
        The per cent are cut, not rounded. None where none is near enough.

    Examples
    --------
    >>> nearest("lenght", ["depth", "length", "width"], 82), nearest("lenght", ["depth"], 82)
    (('length', 83), None)
    """
    best, most = None, (alike, 100)  # shared letters of both, of how many
    for one in known:
        letters = len(word) + len(one)
        if 2 * min(len(word), len(one)) * most[1] < most[0] * letters:
            continue  # too long or too short, whatever its letters
        found = (2 * shared(word, one), letters)
        nearer = found[0] * most[1] - most[0] * found[1]
        if letters and (nearer > 0 or (nearer == 0 and best is None)):
            best, most = one, found
    return None if best is None else (best, 100 * most[0] // most[1])


def sorted_words(text: str) -> str:
    """Return the words of a text in order of the alphabet: "ulcer venous" is "venous ulcer".

    Examples
    --------
    >>> sorted_words("venous  leg ulcer")
    'leg ulcer venous'
    """
    return " ".join(sorted(text.split()))
