"""Styles for a desktop GIS: what each class holds, and the order that the standard asks for."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from itertools import pairwise
from xml.etree import ElementTree
from xml.etree.ElementTree import Element

import pytest

from layers.maps.styles import public_styles, team_styles
from layers.maps.symbols import SHAPES
from layers.maps.themes import THEMES
from layers.maps.themes.due import WORDS as DUE
from layers.nesting.histories import Histories
from layers.trail.exporting.geopackage import Style
from tests.nesting.notebook import read, seen

COLUMNS = ("occupancy", "species", "fate", "due")
SPECIES = (
    "eastern bluebird",
    "tree swallow",
    "house wren",
    "house sparrow",
    "tufted titmouse",
    "black-capped chickadee",
    "great crested flycatcher",
    "barn swallow",
    "barred owl",
    "white-breasted nuthatch",
)
SLD, OGC = "{http://www.opengis.net/sld}", "{http://www.opengis.net/ogc}"

# From memory of the schema of Styled Layer Descriptor 1.0.0 (OGC 02-070), those parts that
# our styles may use: what an element holds, in this order.
ORDER: Mapping[str, Sequence[str]] = {
    "StyledLayerDescriptor": ("Name", "Title", "Abstract", "NamedLayer"),
    "NamedLayer": ("Name", "UserStyle"),
    "UserStyle": ("Name", "Title", "Abstract", "IsDefault", "FeatureTypeStyle"),
    "FeatureTypeStyle": ("Name", "Title", "Abstract", "FeatureTypeName", "Rule"),
    "Rule": ("Name", "Title", "Abstract", "Filter", "ElseFilter", "PointSymbolizer"),
    "PointSymbolizer": ("Geometry", "Graphic"),
    "Graphic": ("Mark", "Opacity", "Size", "Rotation"),
    "Mark": ("WellKnownName", "Fill", "Stroke"),
    "Fill": ("CssParameter",),
    "Stroke": ("CssParameter",),
    "Filter": ("PropertyIsEqualTo", "PropertyIsNull"),
    "PropertyIsEqualTo": ("PropertyName", "Literal"),
    "PropertyIsNull": ("PropertyName",),
}
WELL_KNOWN = {"square", "circle", "triangle", "star", "cross", "x"}


def many_species() -> Histories:
    """A box for each of ten species, more than have symbols of their own."""
    boxes = [f"A{number}" for number in range(len(SPECIES))]
    return read(
        *(
            seen("05-01", box=box, species=name, eggs=4)
            for box, name in zip(boxes, SPECIES, strict=True)
        ),
        boxes=boxes,
    )


def style(name: str, collection: str = "boxes") -> Style:
    found = {(one.collection, one.name): one for one in all_styles()}
    return found[collection, name]


def all_styles() -> list[Style]:
    return [*team_styles(many_species(), columns=COLUMNS), *public_styles()]


def local(element: Element) -> str:
    return element.tag.rpartition("}")[2]


def drawn_as(one: Style, value: str | None) -> str | None:
    """The label under which a desktop GIS draws a row, by its QML."""
    root = ElementTree.fromstring(one.qml)
    renderer = root.find("renderer-v2")
    assert renderer is not None
    if named := re.fullmatch(r"coalesce\(\"(\w+)\", '([^']+)'\)", renderer.attrib["attr"]):
        value = named[2] if value is None else value
    categories = {
        category.attrib["value"]: category.attrib["label"] for category in root.iter("category")
    }
    return categories.get(value or "", categories.get(""))


@pytest.mark.parametrize("theme", COLUMNS)
def test_every_theme_whose_column_the_boxes_have_is_a_style(theme: str) -> None:
    symbols = THEMES[theme].painted(many_species()).symbols
    labels = [
        one.attrib["label"] for one in ElementTree.fromstring(style(theme).qml).iter("category")
    ]
    assert labels == [symbol.word for symbol in symbols]
    only = team_styles(many_species(), columns=(theme,))
    assert [(one.collection, one.name) for one in only] == [("boxes", theme), ("nests", "fate")]


def test_what_is_due_is_drawn_by_its_words() -> None:
    assert [drawn_as(style("due"), word) for word in DUE] == list(DUE)
    literals = [one.text for one in ElementTree.fromstring(style("due").sld).iter(f"{OGC}Literal")]
    assert literals == list(DUE)


def test_a_box_without_a_nest_is_not_drawn_as_one_of_a_rare_species() -> None:
    species = style("species")
    assert drawn_as(species, None) == "no nest so far"
    assert drawn_as(species, SPECIES[-1]) == "another species"
    assert drawn_as(species, "tree swallow") == "tree swallow"
    assert drawn_as(style("fate"), None) == "no eggs so far"


def test_every_sld_has_the_order_that_the_standard_asks_for() -> None:
    seen_elements = set()
    for one in all_styles():
        for element in ElementTree.fromstring(one.sld).iter():
            name = local(element)
            children = [local(child) for child in element]
            if name not in ORDER:
                assert children == [], name
                continue
            seen_elements.add(name)
            places = [ORDER[name].index(child) for child in children]
            assert all(a <= b for a, b in pairwise(places)), (name, children)
    assert seen_elements == set(ORDER)


def test_every_mark_of_an_sld_is_a_well_known_one() -> None:
    marks = {
        name.text
        for one in all_styles()
        for name in ElementTree.fromstring(one.sld).iter(f"{SLD}WellKnownName")
    }
    assert marks <= WELL_KNOWN
    assert len(SHAPES) > len(marks) > 3


def test_the_rest_is_drawn_last_and_once() -> None:
    for one in all_styles():
        rules = list(ElementTree.fromstring(one.sld).iter(f"{SLD}Rule"))
        rest = [rule.find(f"{SLD}ElseFilter") is not None for rule in rules]
        assert sum(rest) <= 1
        assert rest == sorted(rest)
