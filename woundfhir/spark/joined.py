"""Names that are of one client, on the driver."""

from __future__ import annotations

from collections.abc import Iterable


class Joined:
    """Names that are of one client.

    Examples
    --------
    >>> found = Joined()
    >>> found.join(["Patient/b", "Patient/c"]), found.join(["Patient/c", "Patient/a"])
    (None, None)
    >>> sorted(found.roots().items())
    [('Patient/b', 'Patient/a'), ('Patient/c', 'Patient/a')]
    """

    def __init__(self) -> None:
        self._above: dict[str, str] = {}

    def _root(self, name: str) -> str:
        while (above := self._above.get(name, name)) != name:
            self._above[name] = self._above.get(above, above)
            name = above
        return name

    def join(self, names: Iterable[str]) -> None:
        """Note that all of these are of one client."""
        first, *others = sorted({self._root(name) for name in names})
        for other in others:
            self._above[other] = first

    def roots(self) -> dict[str, str]:
        """Return name -> the name by which its client is known, where it is another."""
        return {name: root for name in self._above if (root := self._root(name)) != name}
