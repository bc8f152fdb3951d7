"""What ``import woundfhir`` offers: the public names are seen by dir, help and editors, and each can be used."""

from __future__ import annotations

import pydoc
import subprocess
import sys

import pytest

import woundfhir


def test_dir_shows_the_public_names_and_no_others() -> None:
    assert dir(woundfhir) == sorted(woundfhir.__all__)


def test_dir_shows_them_before_anything_is_loaded() -> None:
    code = "import sys, woundfhir; print(*dir(woundfhir)); assert 'woundfhir.fhir' not in sys.modules"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.split() == sorted(woundfhir.__all__)


@pytest.mark.parametrize("name", sorted(set(woundfhir.__all__) - {"__version__"}))
def test_help_shows_each_with_its_words(name: str) -> None:
    shown = pydoc.render_doc(woundfhir, renderer=pydoc.plaintext)
    found = getattr(woundfhir, name)
    assert found.__doc__
    assert f" {name}" in shown
    assert found.__doc__.splitlines()[0] in shown


def test_every_name_has_a_home() -> None:
    """What is loaded at first use and what is said to be public are the same names."""
    here = {"InputError", "WoundfhirError", "__version__"}
    assert set(woundfhir.__all__) == set(woundfhir._HOMES) | here
    assert sorted(woundfhir.__all__) == woundfhir.__all__
    with pytest.raises(AttributeError, match="no attribute 'reed'"):
        woundfhir.reed  # noqa: B018
