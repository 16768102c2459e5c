"""The rules of what the public may see, as typed and as kept in the trail's file."""

from __future__ import annotations

from pathlib import Path

import pytest

from layers.errors import BadValue, NotKnown
from layers.trail.public_rules import PublicRules
from layers.trail.settings import Settings
from layers.trail.store import Trail

SETTINGS = Settings("Alderbeck Reserve", "America/New_York")


def test_the_defaults_are_stored_as_nothing() -> None:
    assert PublicRules().as_json() == {}
    assert PublicRules.from_json({}) == PublicRules()


def test_rules_come_back_from_the_file_as_they_were(tmp_path: Path) -> None:
    rules = PublicRules(
        cell=0.001,
        delay_days=60,
        ongoing="in use",
        withheld_species=("barred owl",),
        licence="CC BY 4.0",
    )
    with Trail.create(tmp_path / "trail.gpkg", SETTINGS) as trail:
        assert trail.settings().public_rules == PublicRules()
        trail.change_settings(public_rules=rules)
        assert trail.settings().public_rules == rules


@pytest.mark.parametrize(
    ("rule", "text", "expected"),
    [
        ("cell", "0.001", 0.001),
        ("coarse-cell", "1", 1.0),
        ("delay days", "0", 0),
        ("ongoing", "in use", "in use"),
        ("withheld-species", "barred owl; wood duck; barred owl", ("barred owl", "wood duck")),
        ("released", "", ()),
        ("licence", " CC0 ", "CC0"),
    ],
)
def test_a_rule_is_typed_as_text(rule: str, text: str, expected: object) -> None:
    name = rule.replace("-", "_").replace(" ", "_")
    assert getattr(PublicRules().with_text(rule, text), name) == expected


@pytest.mark.parametrize(
    ("rule", "text", "message"),
    [
        ("cell", "0.02", "one of 0.001, 0.01, 0.1, 1 degrees, got 0.02"),
        ("cell", "small", "a number, got 'small'"),
        ("cell", "nan", "one of 0.001"),
        ("cell", "1", "a coarse cell no smaller"),
        ("delay-days", "-1", "0 to 3660 days, got -1"),
        ("ongoing", "shown", "one of withheld, in use"),
        ("released", "boxes", "one of paths, places, zones"),
        ("unmarked", "open", "one of shown, coarse, hidden"),
        ("grid", "0.1", "one of open, name, region, contact, cell"),
    ],
)
def test_what_a_rule_cannot_hold_is_refused(rule: str, text: str, message: str) -> None:
    with pytest.raises(BadValue, match=message):
        PublicRules().with_text(rule, text)


@pytest.mark.parametrize(
    ("held", "message"),
    [
        ({"grid": 1}, "one of open, name, region, contact, cell"),
        ({"cell": "fine"}, "a number, got 'fine'"),
        ({"delay_days": 1.5}, "a whole number, got 1.5"),
        ({"released": "paths"}, "a list of texts, got 'paths'"),
        ({"licence": None}, "a text, got None"),
    ],
)
def test_nonsense_in_the_file_is_reported(held: dict[str, object], message: str) -> None:
    with pytest.raises(BadValue, match=message):
        PublicRules.from_json(held)


def test_settings_with_public_rules_that_are_no_json_object_are_refused() -> None:
    row = SETTINGS.as_row()
    for held in ("[1]", "{"):
        with pytest.raises(BadValue, match=r"JSON.*column public_rules"):
            Settings.from_row(row | {"public_rules": held})


def test_every_rule_is_shown_in_words() -> None:
    shown = dict(PublicRules(released=("paths", "zones")).to_text())
    assert shown["cell"] == "0.01"
    assert shown["delay days"] == "30"
    assert shown["released"] == "paths; zones"
    assert shown["licence"] == "none"


def test_a_box_is_marked_by_its_id_and_a_strange_one_changes_nothing(tmp_path: Path) -> None:
    with Trail.create(tmp_path / "trail.gpkg", SETTINGS) as trail:
        trail.add_rows("boxes", [{"box": "A1"}, {"box": "A2"}])
        trail.mark_boxes({"A1": "hidden"})
        assert trail.boxes()["public"].tolist() == ["hidden", None]
        with pytest.raises(NotKnown, match="'A9'"):
            trail.mark_boxes({"A2": "coarse", "A9": "coarse"})
        with pytest.raises(BadValue, match="one of shown, coarse, hidden"):
            trail.mark_boxes({"A2": "secret"})
        assert trail.boxes()["public"].tolist() == ["hidden", None]
