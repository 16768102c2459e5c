"""Symbols can be told apart: by colour, by shape, in grey, on paper."""

import re
from itertools import combinations

import pytest

from layers.maps.bundle import SCRIPTS
from layers.maps.symbols import OKABE_ITO, SHAPES, WHITE, Symbol
from layers.maps.themes import THEMES
from tests.maps.made import made

RIM = "#1d2a26"


def luminance(colour: str) -> float:
    """Relative luminance (W3C, Web Content Accessibility Guidelines 2.2, definition)."""
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    linear = [v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4 for v in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def symbols(theme: str) -> tuple[Symbol, ...]:
    return THEMES[theme].painted(made().histories).symbols


@pytest.mark.parametrize("theme", THEMES)
def test_no_two_symbols_of_a_theme_share_a_shape_unless_filled_and_plain(theme: str) -> None:
    for one, other in combinations(symbols(theme), 2):
        assert one.shape != other.shape, f"{one.word} and {other.word}"
        assert one.word != other.word


@pytest.mark.parametrize("theme", THEMES)
def test_every_symbol_has_a_known_shape_and_a_colour_of_the_palette(theme: str) -> None:
    for symbol in symbols(theme):
        assert symbol.shape in SHAPES
        assert symbol.colour in {*OKABE_ITO.values(), WHITE}


def test_the_script_draws_the_shapes_that_are_named_and_no_others() -> None:
    script = (SCRIPTS / "symbols.js").read_text()
    drawn = set(re.findall(r'^  "([a-z ]+)": \(pen, r\)', script, flags=re.MULTILINE))
    assert drawn | {"half disc"} == set(SHAPES)


@pytest.mark.parametrize("ground", ["#f0ecdf", "#c6d7b0", "#dfe6cc", "#bcd9e6"])
def test_the_rim_stands_out_on_every_ground(ground: str) -> None:
    # WCAG 2.2, success criterion 1.4.11: at least 3 to 1 for parts of a picture.
    assert contrast(RIM, ground) >= 3


@pytest.mark.parametrize("theme", THEMES)
def test_each_code_of_the_timeline_has_a_class(theme: str) -> None:
    painted = THEMES[theme].painted(made().histories)
    assert set(painted.class_of) <= set(range(len(painted.symbols)))


def test_more_species_than_symbols_share_one_for_the_others() -> None:
    painted = THEMES["species"].painted(made().histories)
    words = [symbol.word for symbol in painted.symbols]
    assert words[0] == "no nest so far"
    assert words[-1] == "species not recorded"
    names = made().histories.visits.species_names
    assert len(painted.class_of) == len(names) + 2
