"""Family files: what ships, what is refused and how, and that no switch is idle."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from pydantic import BaseModel

import labkit
from labkit.base import data_path
from labkit.controller import (
    Family,
    FamilyError,
    differences,
    dumps_family,
    families,
    family,
    load_family,
    loads_family,
)
from labkit.controller._page import families_page


@pytest.mark.parametrize("name", families())
def test_a_shipped_family_is_called_like_its_file_and_survives_writing(name):
    profile = family(name)
    assert profile.name == name
    assert loads_family(dumps_family(profile)) == profile


def test_the_two_families_of_the_first_lesson_are_there():
    """The figures that the orchard lesson was set up with (the lesson's own design, no outside source)."""
    alder, birch = family("alder"), family("birch")
    assert (alder.scan.period_us, birch.scan.period_us) == (10_000, 50_000)
    assert (alder.inputs.type_no, birch.inputs.type_no) == (3, 1)
    assert alder.inputs.filter_us == birch.inputs.filter_us == 4_000
    assert (alder.addresses.group_bits, birch.addresses.base) == (8, 8)


@pytest.mark.parametrize("name", families())
def test_a_family_starts_within_the_tolerance_of_a_24_v_supply(name):
    """IEC 61131-2, rated supplies: 24 V DC may be as low as 20.4 V, and the controller has to work there."""
    assert family(name).supply.restore_v <= 20.4


def test_an_unknown_family_gets_a_hint():
    with pytest.raises(FamilyError, match="no controller family called 'aldr'") as slip:
        family("aldr")
    assert slip.value.try_this == "Did you mean alder?"


def test_a_family_hands_itself_back():
    assert family(family("birch")) is family("birch")


GOOD = data_path("datasets", "families", "alder.toml").read_text(encoding="utf-8")

WRONG = [
    (
        "period_us = 10_000",
        "perid_us = 10_000",
        "scan.perid_us: this table has no key perid_us",
        "Did you mean period_us?",
    ),
    ("period_us = 10_000", "", "scan.period_us is missing", "add period_us = ..."),
    ("period_us = 10_000", "period_us = 0", "scan: period_us must be above 0 when the scan is fixed", ""),
    (
        'kind = "fixed"',
        'kind = "free"',
        "scan: period_us must be 0 when the scan is free: its phases make its length",
        "",
    ),
    ('kind = "fixed"', 'kind = "sometimes"', "scan.kind: should be 'fixed' or 'free', not 'sometimes'", ""),
    ("base = 10", "base = 12", "addresses.base: should be 8, 10 or 16, not 12", ""),
    ("restore_v = 20.0", "restore_v = 17", "supply: restore_v (17 V) must not be below brown_out_v (18 V)", ""),
    ("filter_us = 4_000", "filter_us = -1", "inputs.filter_us: should be greater than or equal to 0, not -1", ""),
    ("filter_us = 4_000", "filter_us = 4.5", "inputs.filter_us: should be a valid integer, not 4.5", ""),
    ("schema = 1", "schema = 2", "schema 2 is newer than this labkit knows (1)", "update labkit"),
    ("schema = 1", "", "the file does not say which schema it follows", "write schema = 1 at its top"),
    ("schema = 1", "schema = true", "schema True is not one that labkit ever used", "write schema = 1"),
    ("[timers]", "[tmers]", "tmers: this table has no key tmers", "Did you mean timers?"),
    ("[outputs]", "[outputs.more]", "outputs.more: this table has no key more", ""),
]


@pytest.mark.parametrize(("old", "new", "what", "try_this"), WRONG)
def test_a_wrong_file_is_told_by_its_place(old, new, what, try_this):
    assert old in GOOD
    with pytest.raises(FamilyError) as slip:
        loads_family(GOOD.replace(old, new, 1), source="mine.toml")
    assert slip.value.what == what
    assert slip.value.try_this.startswith(try_this)
    assert slip.value.where.startswith("mine.toml")


def test_a_file_that_is_no_toml_says_so():
    with pytest.raises(FamilyError, match=r"mine\.toml is not TOML: .*line 1"):
        loads_family("this is it", source="mine.toml")


def test_a_family_file_of_ones_own_loads(tmp_path):
    path = tmp_path / "mine.toml"
    path.write_text(GOOD.replace('name = "alder"', 'name = "mine"'), encoding="utf-8")
    mine = load_family(path)
    assert mine.name == "mine"
    assert family(mine) is mine


def _fields(table: type[BaseModel]):
    for key, field in table.model_fields.items():
        inner = field.annotation
        if isinstance(inner, type) and issubclass(inner, BaseModel):
            yield from _fields(inner)
        else:
            yield key, field


def test_every_switch_is_read_somewhere_and_says_how_it_shows():
    """A switch that nothing reads is a promise that nothing keeps."""
    package = Path(labkit.__file__).parent
    home = package / "controller" / "family.py"
    code = "\n".join(p.read_text(encoding="utf-8") for p in sorted(package.rglob("*.py")) if p != home)
    for key, field in _fields(Family):
        by_name = "getattr(rule, kind)" in code and key in {"plain", "retained", "blocks"}
        assert by_name or re.search(rf"\.{key}\b", code), f"nothing reads {key}"
        assert key in {"name", "summary"} or (field.title and field.description), f"{key} is not explained"


def test_differences_name_what_changes_and_nothing_else():
    alder, birch = family("alder"), family("birch")
    assert differences(alder, alder) == ()
    found = {d.key: (d.old, d.new) for d in differences(alder, birch)}
    assert found["scan.period_us"] == ("10 ms", "50 ms")
    assert found["retention.stop_to_run.plain"] == ("clear", "keep")
    assert "inputs.filter_us" not in found
    back = {d.key: (d.new, d.old) for d in differences(birch, alder)}
    assert back == found


def test_the_reference_page_is_printed_from_the_data():
    """Renew it with ``python -m labkit.controller._page > docs/reference/families.md``."""
    page = Path(__file__).parents[2] / "docs" / "reference" / "families.md"
    assert page.read_text(encoding="utf-8") == families_page()
