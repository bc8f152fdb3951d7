"""Policies: every number has a unit, a meaning and a source; a file that is none is refused with its place."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest

from woundfhir.catalogue import catalogue
from woundfhir.catalogue.model import MARKS
from woundfhir.checklist.policy import BUILT_IN, load, parse
from woundfhir.errors import InputError

#: UCUM units that a policy may use without a spelling in the catalogue.
OTHER_UNITS = {"1"}


@pytest.mark.parametrize("name", BUILT_IN)
def test_a_built_in_policy_is_whole(name: str) -> None:
    policy = load(name)
    assert policy.limits.keys() == load("ontario").limits.keys()
    codes = set(catalogue().units.values()) | OTHER_UNITS
    for key, limit in policy.limits.items():
        assert limit.unit in codes, key
        assert limit.mark in MARKS and limit.source and limit.meaning, key


@pytest.mark.parametrize(
    ("name", "key", "value"),
    [
        # RNAO, Assessment and Management of Venous Leg Ulcers, diagnostic evaluation: refer above 1.2 or below 0.8.
        ("ontario", "limb_pressure.low", "0.8"),
        ("ontario", "limb_pressure.high", "1.2"),
        # NICE text of 2021 as quoted by teaching pages: above 1.3 calcification, below 0.5 compression contraindicated.
        ("international", "limb_pressure.high", "1.3"),
        ("international", "limb_pressure.severe", "0.5"),
        # Health Quality Ontario 2017, venous leg ulcers, statement 1: at least every 12 months.
        ("ontario", "limb_pressure.days", "365"),
        # RNAO 2007, recommendation 3.1b: weekly. CMS RAI manual section M: 14 days.
        ("ontario", "full_assessment.days", "7"),
        ("ontario", "pressure_injury.progress_days", "14"),
        # BC Provincial Nursing Skin and Wound Committee: count packing in a space deeper than 1 cm.
        ("ontario", "packing.depth", "1"),
        # RNAO, Cleansing the Wound: at least 100 mL. NPUAP and EPUAP 2009: 4 to 15 psi.
        ("ontario", "cleansing.volume", "100"),
        ("ontario", "cleansing.pressure_low", "4"),
        ("ontario", "cleansing.pressure_high", "15"),
        # Woo and Sibbald 2009: three signs; three degrees Fahrenheit, which are 1.67 degrees Celsius.
        ("ontario", "infection.signs", "3"),
        ("ontario", "infection.warmer", "1.67"),
        # NHS lower limb recommendations: full assessment within 14 days, foot referral within one.
        ("international", "limb_pressure.assessment_days", "14"),
        ("international", "limb_pressure.foot_referral_days", "1"),
    ],
)
def test_numbers_are_those_of_their_sources(name: str, key: str, value: str) -> None:
    assert load(name).number(key) == Decimal(value)


HEAD = 'name = "ours"\nversion = "3"\ntitle = "Ours"\nextends = "ontario"\n'
ROW = '[full_assessment.days]\nvalue = "10"\nsource = "Our manual 2026"\nmark = "seen"\n'


def test_a_site_gives_only_what_differs(tmp_path: Path) -> None:
    file = tmp_path / "ours.toml"
    file.write_text(HEAD + ROW, "utf-8")
    policy = load(file)
    assert policy.days("full_assessment.days") == 10 and policy.says("full_assessment.days") == "10 d"
    assert policy.source("full_assessment.days") == "policy ours 3: Our manual 2026 (seen)"
    assert policy.limits["packing.depth"] == load("ontario").limits["packing.depth"]
    assert policy.limits["full_assessment.days"].meaning == load("ontario").limits["full_assessment.days"].meaning


@pytest.mark.parametrize(
    ("text", "place", "expected"),
    [
        ("name = ", "ours.toml", "TOML"),
        ('name = "a"\nversion = "1"\n', "ours.toml", "title"),
        (HEAD.replace("ontario", "mars"), "extends", "ontario"),
        (HEAD.replace('extends = "ontario"\n', "") + ROW, "full_assessment.days.unit", "text in quotes"),
        (
            HEAD + ROW.replace("full_assessment.days", "full_assessment.hours"),
            "full_assessment.hours",
            "one of the numbers",
        ),
        (HEAD + ROW.replace('"10"', "10"), "full_assessment.days.value", "quotes"),
        (HEAD + ROW.replace('"10"', '"ten"'), "full_assessment.days.value", "number"),
        (HEAD + ROW.replace('"10"', '"-1"'), "full_assessment.days.value", "number"),
        (HEAD + ROW.replace('"10"', '"NaN"'), "full_assessment.days.value", "number"),
        (HEAD + ROW + 'unit = "h"\n', "full_assessment.days.unit", "unit d"),
        (HEAD + ROW.replace("seen", "sure"), "full_assessment.days.mark", "from memory"),
        (HEAD + ROW.replace('source = "Our manual 2026"\n', ""), "full_assessment.days.source", "quotes"),
        (HEAD + ROW + 'colour = "red"\n', "full_assessment.days.colour", "one of mark, meaning"),
        (HEAD + 'full_assessment = "10"\n', "full_assessment", "one of the numbers"),
    ],
)
def test_a_policy_that_is_none_is_refused_with_its_place(text: str, place: str, expected: str) -> None:
    with pytest.raises(InputError) as error:
        parse(text, "ours.toml")
    assert "ours.toml" in error.value.where and place in error.value.where and expected in str(error.value)
    assert error.value.fix


def test_a_whole_policy_of_a_site_needs_every_number() -> None:
    with pytest.raises(InputError, match="the number"):
        parse(HEAD.replace('extends = "ontario"\n', ""), "ours.toml")


def test_a_file_that_is_not_there_and_one_that_is_no_text(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="ontario or international"):
        load(tmp_path / "none.toml")
    (tmp_path / "bytes.toml").write_bytes(b"\xff\xfe")
    with pytest.raises(InputError, match="UTF-8"):
        load(tmp_path / "bytes.toml")
