"""A site's folder, read and checked: ``site.toml``, and beside it policy, checklist, defaults and maps."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from contextvars import ContextVar
from functools import partial
from pathlib import Path

from woundfhir.border import guarded
from woundfhir.catalogue import Catalogue, CatalogueError, SiteFacts, holding, load
from woundfhir.errors import InputError
from woundfhir.language import speaking, spoken
from woundfhir.site.entries import Entries
from woundfhir.site.model import SiteFile
from woundfhir.site_file import at_line, load_toml, near, read_text

MAIN, POLICY, CHECKLIST, DEFAULTS, MAPS = "site.toml", "policy.toml", "checklist.toml", "defaults.toml", "maps"
#: What a folder may hold, and nothing else that could be a misspelt one of these.
NAMES = (MAIN, POLICY, CHECKLIST, DEFAULTS, MAPS)
_READ = (".toml", ".tsv")
_HELD: ContextVar[tuple[ExitStack, ...]] = ContextVar("sites that hold", default=())


class Site:
    """A site: its own words, data elements, labels, maps, policy, checklist and defaults.

    Everything that is called inside its ``with`` block knows them: reading, writing, ``check``, ``bundle``. They hold
    for the thread that enters the block, and end with it; a history that holds answers of the site's own is refused
    outside.

    Parameters
    ----------
    folder
        The folder with ``site.toml``; ``woundfhir explain site`` prints one.

    Raises
    ------
    InputError
        For what is no such folder: names the file, the line where it can be found, what was expected, what to do.

    Examples
    --------
    >>> with Site("examples/site") as site:  # doctest: +SKIP
    ...     history = woundfhir.read("note.yaml")
    """

    @partial(guarded, name="Site")
    def __init__(self, folder: str | Path) -> None:
        self.folder = Path(folder)
        self.catalogue: Catalogue = _catalogue(self.folder)
        with self._holding():
            _check_files(self.catalogue.site)

    def __repr__(self) -> str:
        return f"<Site: {self.catalogue.site.name if self.catalogue.site else ''}>"

    @contextmanager
    def _holding(self) -> Iterator[None]:
        from woundfhir.intake.mapped import using

        maps = self.folder / MAPS
        language = (self.catalogue.site and self.catalogue.site.language) or spoken()
        found = [maps] if maps.is_dir() and any(maps.iterdir()) else []
        with speaking(language), holding(self.catalogue), using(found):
            yield

    def __enter__(self) -> Site:
        held = ExitStack()
        held.enter_context(self._holding())
        _HELD.set((*_HELD.get(), held))
        return self

    def __exit__(self, *_: object) -> None:
        *rest, held = _HELD.get()
        _HELD.set(tuple(rest))
        held.close()


def _catalogue(folder: Path) -> Catalogue:
    _check_names(folder)
    path = folder / MAIN
    where, text = str(path), read_text(path, "site", (MAIN,))
    file = load_toml(text, SiteFile, where, "site", lines=True)
    there = {name: folder / name for name in NAMES if (folder / name).exists()}
    facts = SiteFacts(
        file.name,
        file.title,
        file.base,
        folder,
        file.version,
        {key: url for key, url in file.identifiers.model_dump().items() if url},
        there.get(POLICY),
        there.get(DEFAULTS),
        (there[CHECKLIST],) if CHECKLIST in there else (),
        file.language,
    )
    entries = Entries(file, facts, text, where)
    try:
        made = load(entries.additions())
    except CatalogueError as error:
        place, _, wrong = str(error).partition(": ")
        steps = place.split(".")
        loc = steps if steps[0] == "answers" else ["concepts", *steps]
        fix = "Correct the entry; `woundfhir explain site` prints an example"
        raise InputError(
            f"{at_line(where, text, loc)}, {place}", "entries that fit together", fix, found=wrong
        ) from None
    _check_labels(made, entries)
    return made


def _check_names(folder: Path) -> None:
    """Refuse what is no folder, and a file that would be passed over because of its name."""
    if not folder.is_dir():
        wrong = "it is a file" if folder.exists() else "there is no such folder"
        raise InputError(str(folder), f"a folder with {MAIN} in it", "Name the folder", found=wrong)
    for one in sorted(folder.iterdir()):
        if one.name not in NAMES and not one.name.startswith(".") and (one.suffix.lower() in _READ):
            fix = near(one.name, NAMES) or f"Maps belong into the folder {MAPS}"
            raise InputError(str(one), f"one of {', '.join(NAMES)}", fix)
    if (folder / MAPS).exists() and not (folder / MAPS).is_dir():
        raise InputError(str(folder / MAPS), "a folder of maps", "Put the map into a folder of this name")


def _check_labels(made: Catalogue, entries: Entries) -> None:
    known = {concept.path for concept in made.concepts(fields=True)}
    known |= {f"{key}/{word.word}" for key, answers in made.answers.items() for word in answers.words}
    for language, table in entries.file.labels.items():
        for name in table:
            if name not in known:
                fix = near(name, known) or "`woundfhir catalogue` lists the paths"
                raise entries.fault(("labels", language, name), "a path, or list/word, of the catalogue", fix)


def _check_files(site: SiteFacts | None) -> None:
    """Read the other files once, so that what is wrong in them is named before anything is read by them."""
    from woundfhir.chart.defaults import read
    from woundfhir.checklist import policy
    from woundfhir.checklist.site import compose

    assert site is not None
    if site.policy is not None:
        policy.load(site.policy)
    if site.defaults is not None:
        read(site.defaults)
    compose(None)
