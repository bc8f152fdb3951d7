"""What an option offers is what its room serves: help loads nothing heavy, and so the names stand there twice."""

from __future__ import annotations

from typing import Any, get_args

import click
import pytest

from woundfhir.catalogue.reader import GROUPS
from woundfhir.checklist import LEVELS
from woundfhir.cli import bundle_, check_, convert_
from woundfhir.fhir.fates import KINDS
from woundfhir.handover import bundling
from woundfhir.handover.document.around import LEVELS as CONFIDENTIALITY
from woundfhir.handover.document.build import TYPES
from woundfhir.report import FORMATS
from woundfhir.site.model import Group

OFFERED: dict[str, tuple[click.Command, str, Any]] = {
    "bundle --as": (bundle_.command, "kind", bundling.KINDS),
    "bundle --document": (bundle_.command, "document", get_args(bundling.Document)),
    "bundle --confidentiality": (bundle_.command, "confidentiality", CONFIDENTIALITY),
    "check --format": (check_.command, "form", FORMATS),
    "check --fail-on": (check_.command, "fail_on", (*LEVELS, "never")),
    "convert --list": (convert_.command, "kinds", KINDS),
}


@pytest.mark.parametrize("name", OFFERED)
def test_an_option_offers_what_its_room_serves(name: str) -> None:
    command, parameter, served = OFFERED[name]
    option = next(one for one in command.params if one.name == parameter)
    assert isinstance(option.type, click.Choice)
    assert set(option.type.choices) == set(served)


def test_every_kind_of_document_has_its_type() -> None:
    assert set(get_args(bundling.Document)) == set(TYPES)


def test_a_site_may_add_to_every_group_of_the_catalogue() -> None:
    assert get_args(Group) == GROUPS
