"""Drawings of nests and eggs follow the guide's values."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

import pytest

from layers.maps.key_drawing import key_drawing
from layers.nesting.guide import guide_with, standard_guide

GUIDE = standard_guide()


def eggs(name: str) -> list[dict[str, str]]:
    tree = ET.fromstring(key_drawing(GUIDE.find(name)))
    return [one.attrib for one in tree.iter("ellipse") if one.get("stroke") == "#444"]


def test_every_species_has_a_drawing_that_is_the_same_each_time() -> None:
    for species in GUIDE.species:
        drawn = key_drawing(species)
        assert ET.fromstring(drawn).tag == "svg"
        assert drawn == key_drawing(species)


@pytest.mark.parametrize(
    ("name", "ground", "marks"),
    [
        ("eastern bluebird", "#a9d3e6", 0),
        ("tree swallow", "#fbfaf5", 0),
        ("black-capped chickadee", "#fbfaf5", 48),
        ("prothonotary warbler", "#f1e3c2", 48),
    ],
)
def test_eggs_have_the_ground_and_the_marks_of_the_guide(
    name: str, ground: str, marks: int
) -> None:
    assert {egg["fill"] for egg in eggs(name)} == {ground}
    assert key_drawing(GUIDE.find(name)).count("<circle") == marks


def test_eggs_are_to_scale() -> None:
    wren, starling = float(eggs("house wren")[0]["rx"]), float(eggs("european starling")[0]["rx"])
    assert wren / starling == pytest.approx(16 / 29.7, abs=0.02)


def test_a_domed_nest_rises_above_a_cup() -> None:
    def top(name: str) -> float:
        found = re.findall(r'd="M\d+ (\d+)', key_drawing(GUIDE.find(name)))
        return min(float(y) for y in found)

    assert top("carolina wren") < 25
    assert top("tree swallow") > 40


def test_what_a_trail_writes_into_its_guide_is_text() -> None:
    own = guide_with("[species.'great tit']\nnest = { words = '<b>moss</b> \"cup\"' }")
    assert "<b>" not in key_drawing(own.find("great tit"))
