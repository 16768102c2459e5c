"""The map's classes as styles of a desktop GIS: the same colours, shapes and words.

Each style is written twice: as SLD 1.0 (OGC 02-070), which knows six shapes, and as QML,
which knows more. The names of shapes and properties in QML are from memory, and were read
as meant by QGIS 3.22, which also draws the shapes apart.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from xml.etree.ElementTree import Element, tostring

from layers.maps.symbols import OKABE_ITO, Symbol
from layers.maps.themes import THEMES, Theme
from layers.maps.themes.due import WORDS as DUE
from layers.nesting.guide import standard_guide
from layers.nesting.histories import Histories, read_histories
from layers.trail.exporting.geopackage import Style
from layers.trail.exporting.xml_text import child
from layers.trail.visits import Visits
from layers.trail.words import FATES, OCCUPANCY

RIM = "#1d2a26"
"""The dark rim that the map draws round each symbol."""

SIZE_PX = 14
_SMALL = 0.6


@dataclass(frozen=True)
class _Mark:
    """A shape as each language has it: its name, turned clockwise, and how large."""

    sld: str
    qml: str
    sld_turned_deg: int = 0
    qml_turned_deg: int = 0
    size: float = 1.0


MARKS: Mapping[str, _Mark] = MappingProxyType(
    {
        "disc": _Mark("circle", "circle"),
        "half disc": _Mark("triangle", "semi_circle", sld_turned_deg=180),
        "square": _Mark("square", "square"),
        "small ring": _Mark("circle", "circle", size=_SMALL),
        "triangle": _Mark("triangle", "triangle"),
        "diamond": _Mark("square", "diamond", sld_turned_deg=45),
        "cross": _Mark("x", "cross_fill", qml_turned_deg=45),
        "tall bar": _Mark("triangle", "half_square", sld_turned_deg=90),
        "wide bar": _Mark("triangle", "half_square", sld_turned_deg=270, qml_turned_deg=90),
        "drop": _Mark("cross", "pentagon"),
        "star": _Mark("star", "star"),
        "hexagon": _Mark("star", "hexagon", sld_turned_deg=180),
    }
)
"""Shape of `layers.maps.symbols` -> the marks nearest to it; no two share one."""


NEVER_EMPTY = ("occupancy", "due")
"""Columns that say something of every box; of others the first code means that there is nothing."""


@dataclass(frozen=True)
class Class:
    """Rows of a class and their symbol: `value` None = the column is empty."""

    symbol: Symbol
    value: str | None
    is_rest: bool = False


def team_styles(histories: Histories, *, columns: Collection[str]) -> list[Style]:
    """The map's themes for boxes, of those that paint by one of `columns`, and fates of nests."""
    first = next(iter(THEMES))
    themes = [
        _style("boxes", theme.column, theme.title, _classes(theme, histories), name == first)
        for name, theme in THEMES.items()
        if theme.column in columns
    ]
    return [*themes, _nests(histories)]


def public_styles() -> list[Style]:
    """The outcomes of published nests, and one symbol for grid cells."""
    cells = Symbol("boxes in a cell", "square", OKABE_ITO["bluish green"])
    return [
        _style("cells", "cell", "Boxes by grid cell", [Class(cells, None, is_rest=True)], True),
        _nests(_no_histories()),
    ]


def _no_histories() -> Histories:
    """Of no visit: the symbols of fates are the same for every trail."""
    nothing = Visits.from_columns(
        {"box": [], "day": []},
        boxes=(),
        species_names=(),
        observers=(),
        signs_words=(),
        actions_words=(),
    )
    return read_histories(nothing, standard_guide(), season_starts="01-01")


def _nests(histories: Histories) -> Style:
    theme = THEMES["fate"]
    classes = [one for one in _classes(theme, histories) if one.value is not None]
    return _style("nests", "fate", "Outcome of the nest", classes, True)


def _classes(theme: Theme, histories: Histories) -> list[Class]:
    painted = theme.painted(histories)
    named = {*OCCUPANCY, *FATES, *DUE, *histories.visits.species_names}
    listed = []
    for place, symbol in enumerate(painted.symbols):
        empty = theme.column not in NEVER_EMPTY and place == painted.class_of[0]
        rest = not empty and symbol.word not in named and place != painted.class_of[-1]
        listed.append(Class(symbol, None if empty or rest else symbol.word, is_rest=rest))
    return listed


def _style(
    collection: str, column: str, title: str, classes: Sequence[Class], default: bool
) -> Style:
    return Style(
        collection=collection,
        name=column,
        note=title,
        qml=_qml(column, classes),
        sld=_sld(collection, column, title, classes),
        default=default,
    )


def _sld(collection: str, column: str, title: str, classes: Sequence[Class]) -> str:
    root = Element(
        "StyledLayerDescriptor",
        {
            "version": "1.0.0",
            "xmlns": "http://www.opengis.net/sld",
            "xmlns:ogc": "http://www.opengis.net/ogc",
        },
    )
    layer = child(root, "NamedLayer")
    child(layer, "Name", collection)
    style = child(layer, "UserStyle")
    child(style, "Name", column)
    child(style, "Title", title)
    rules = child(style, "FeatureTypeStyle")
    # The rest is drawn where no other rule holds, so it comes last.
    for one in sorted(classes, key=lambda one: one.is_rest):
        rule = child(rules, "Rule")
        child(rule, "Name", one.symbol.word)
        child(rule, "Title", one.symbol.word)
        if one.is_rest:
            child(rule, "ElseFilter")
        else:
            _add_filter(rule, column, one.value)
        _add_graphic(rule, one.symbol)
    return tostring(root, encoding="unicode", xml_declaration=True)


def _add_filter(rule: Element, column: str, value: str | None) -> None:
    held = child(rule, "ogc:Filter")
    test = child(held, "ogc:PropertyIsNull" if value is None else "ogc:PropertyIsEqualTo")
    child(test, "ogc:PropertyName", column)
    if value is not None:
        child(test, "ogc:Literal", value)


def _add_graphic(rule: Element, symbol: Symbol) -> None:
    mark = MARKS[symbol.shape]
    graphic = child(child(rule, "PointSymbolizer"), "Graphic")
    drawn = child(graphic, "Mark")
    child(drawn, "WellKnownName", mark.sld)
    child(child(drawn, "Fill"), "CssParameter", symbol.colour, {"name": "fill"})
    stroke = child(drawn, "Stroke")
    child(stroke, "CssParameter", RIM, {"name": "stroke"})
    child(stroke, "CssParameter", 1, {"name": "stroke-width"})
    child(graphic, "Size", SIZE_PX * mark.size)
    if mark.sld_turned_deg:
        child(graphic, "Rotation", mark.sld_turned_deg)


def _qml(column: str, classes: Sequence[Class]) -> str:
    root = Element("qgis", {"version": "3.28.0", "styleCategories": "Symbology"})
    # To QML an empty category is the rest, so what is empty in the column gets a name.
    empty = [one.symbol.word for one in classes if one.value is None and not one.is_rest]
    attribute = f"coalesce(\"{column}\", '{empty[0]}')" if empty else column
    renderer = child(
        root,
        "renderer-v2",
        attributes={"type": "categorizedSymbol", "attr": attribute, "symbollevels": "0"},
    )
    categories, symbols = child(renderer, "categories"), child(renderer, "symbols")
    for number, one in enumerate(classes):
        value = "" if one.is_rest else one.value or one.symbol.word
        drawn = {"symbol": str(number), "label": one.symbol.word, "render": "true"}
        child(categories, "category", attributes={"value": value, "type": "string", **drawn})
        _add_marker(symbols, str(number), one.symbol)
    return tostring(root, encoding="unicode")


def _add_marker(symbols: Element, name: str, symbol: Symbol) -> None:
    mark = MARKS[symbol.shape]
    marker = child(symbols, "symbol", attributes={"type": "marker", "name": name, "alpha": "1"})
    layer = child(
        marker, "layer", attributes={"class": "SimpleMarker", "enabled": "1", "pass": "0"}
    )
    options = child(layer, "Option", attributes={"type": "Map"})
    for key, value in {
        "name": mark.qml,
        "color": _channels(symbol.colour),
        "outline_color": _channels(RIM),
        "outline_style": "solid",
        "outline_width": "0.25",
        "outline_width_unit": "MM",
        "size": str(3.6 * mark.size),
        "size_unit": "MM",
        "angle": str(mark.qml_turned_deg),
    }.items():
        child(options, "Option", attributes={"name": key, "value": value, "type": "QString"})


def _channels(colour: str) -> str:
    red, green, blue = (int(colour[at : at + 2], 16) for at in (1, 3, 5))
    return f"{red},{green},{blue},255"
