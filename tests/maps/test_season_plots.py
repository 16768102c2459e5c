"""The report's plots: SVG that stands alone, reads in grey and says in words what it shows."""

from __future__ import annotations

import re
import subprocess
import sys
from collections.abc import Iterable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import cache
from typing import Any
from xml.etree import ElementTree as ET

import geopandas as gpd
import matplotlib as mpl
import numpy as np
import pytest

from data_demo.reserve import read_reserve
from layers.errors import NotKnown
from layers.maps.season import drawn, plots
from layers.maps.season.look import FILLS
from layers.maps.season.phenology import hill
from layers.maps.season.weeks import shortened
from layers.nesting.season.report import SeasonReport
from tests.maps.made import HOSTILE, frame
from tests.nesting.season.reports import (
    box_frame,
    demo_report,
    fledged,
    lost,
    not_known,
    report_of,
    several,
)

SVG = "{http://www.w3.org/2000/svg}"
NAMES = ("weeks", "phenology", "survival", "losses", "years", "map")


@dataclass(frozen=True)
class Ground:
    boxes: gpd.GeoDataFrame
    paths: gpd.GeoDataFrame
    zones: gpd.GeoDataFrame


@cache
def ground() -> Ground:
    reserve = read_reserve()
    return Ground(
        frame("boxes", list(reserve.boxes)),
        frame("paths", list(reserve.paths)),
        frame("zones", list(reserve.zones)),
    )


def bare(boxes: Iterable[str] = (), places: Iterable[Any] = ()) -> Ground:
    rows = [{"box": box, "geometry": place} for box, place in zip(boxes, places, strict=True)]
    return Ground(frame("boxes", rows), frame("paths", []), frame("zones", []))


@cache
def report() -> SeasonReport:
    return demo_report()


@pytest.mark.parametrize("name", NAMES)
def test_a_plot_is_well_formed_and_says_what_it_shows(name: str) -> None:
    root = ET.fromstring(drawn(name, report(), ground()))
    (plot,) = [one for one in plots(report(), ground()) if one.name == name]
    assert root.tag == f"{SVG}svg"
    assert root.get("role") == "img"
    assert root.findtext(f"{SVG}title") == plot.title
    assert root.findtext(f"{SVG}desc") == plot.alt
    assert len(plot.alt) > 30


@pytest.mark.parametrize("name", NAMES)
def test_a_plot_for_a_phone_is_as_wide_as_its_screen_at_letters_of_reading_size(name: str) -> None:
    root = ET.fromstring(drawn(name, report(), ground(), narrow=True))
    _, _, width_pt, _ = (float(number) for number in root.attrib["viewBox"].split())
    # 390 CSS pixels less margins of 16 each: 8 points show at 8 pixels or more.
    assert (390 - 32) / width_pt >= 1


def test_a_hill_is_drawn_from_ten_nests_only() -> None:
    def hills(nests: int) -> int:
        boxes = [f"A{number}" for number in range(nests)]
        svg = drawn("phenology", report_of(several(fledged, boxes), boxes=boxes), bare())
        return len(re.findall(r'id="FillBetween', svg))

    assert (hills(9), hills(10)) == (0, 1)


@pytest.mark.parametrize("name", NAMES)
def test_a_plot_fetches_nothing_and_runs_nothing(name: str) -> None:
    root = ET.fromstring(drawn(name, report(), ground()))
    for node in root.iter():
        assert node.tag not in {f"{SVG}script", f"{SVG}image", f"{SVG}text", f"{SVG}a"}
        for attribute, value in node.attrib.items():
            if attribute.endswith("href"):
                assert value.startswith("#")
            assert "url(http" not in value


def test_the_same_report_gives_the_same_file_whatever_was_drawn_before() -> None:
    before = drawn("weeks", report(), ground())
    drawn("map", report(), ground())
    with ThreadPoolExecutor(4) as threads:
        each = threads.map(lambda name: drawn(name, report(), ground()), ["weeks", "years"] * 4)
    assert {text for text in each if "week by week" in text} == {before}


def test_drawing_leaves_the_librarys_settings_as_they_were() -> None:
    size = mpl.rcParams["font.size"]
    drawn("losses", report(), ground())
    assert mpl.rcParams["font.size"] == size


def test_series_differ_by_hatch_so_that_grey_distinguishes_them() -> None:
    assert len({hatch for _, hatch in FILLS}) == len(FILLS)
    patterns = re.findall(r"<pattern", drawn("weeks", report(), ground()))
    assert len(patterns) >= 5


def test_text_of_a_person_is_drawn_and_written_as_it_is() -> None:
    boxes = ("A1", "A2")
    name = f"$x^2$ {HOSTILE}"
    told = report_of(
        fledged("A1"), lost("A2"), boxes=boxes, frame=box_frame(boxes, section=[name, "B & C"])
    )
    svg = drawn("survival", told, bare())
    root = ET.fromstring(svg)
    assert name in (root.findtext(f"{SVG}desc") or "")
    assert "<script" not in svg


def test_only_plots_with_something_to_show_are_there() -> None:
    nothing = report_of()
    assert plots(nothing, bare()) == ()
    with pytest.raises(NotKnown, match=r"season 2026 \(none at all\), got 'weeks'"):
        drawn("weeks", nothing, bare())
    with pytest.raises(NotKnown, match=r"\(weeks, phenology, .*\), got '\.\./look'"):
        drawn("../look", report(), ground())
    none_lost = report_of(several(fledged, ("A1", "A2")))
    names = [one.name for one in plots(none_lost, bare())]
    assert names == ["weeks", "phenology", "survival"]


@pytest.mark.parametrize(
    "told",
    [
        report_of(fledged("A1")),
        report_of(lost("A1")),
        report_of(not_known("A1")),
        report_of(lost("A1"), lost("A2", year=2025)),
        report_of(fledged("A1"), by="brood"),
    ],
    ids=["fledged", "lost", "unknown", "two years", "no boxes' group"],
)
def test_one_nest_can_be_drawn(told: SeasonReport) -> None:
    here = ground().boxes.geometry.iloc[0]
    placed = bare(["A1"], [here])
    names = [one.name for one in plots(told, placed)]
    assert "map" in names
    for name in names:
        assert ET.fromstring(drawn(name, told, placed)).tag == f"{SVG}svg"


def test_boxes_without_a_place_are_left_out_of_the_map() -> None:
    told = report_of(fledged("A1"), fledged("A2"))
    here = ground().boxes.geometry.iloc[0]
    assert "map" in {one.name for one in plots(told, bare(["A1", "A2"], [here, None]))}
    assert "map" not in {one.name for one in plots(told, bare(["A1", "A2"], [None, None]))}
    drawn("map", told, bare(["A1", "A2"], [here, None]))


def test_many_species_share_the_last_look_and_none_is_lost() -> None:
    many = {f"species {n}": (n, 1) for n in range(12)}
    short = shortened(many)
    assert len(short) == len(FILLS)
    assert [sum(n) for n in zip(*short.values(), strict=True)] == [66, 12]
    assert shortened({"wren": (1, 2)}) == {"wren": (1, 2)}


def test_a_hill_holds_each_nest_once_and_is_flatter_where_dating_is_wide() -> None:
    days = np.arange(0, 200)
    narrow, wide = hill(days, [(100, 1)]), hill(days, [(100, 30)])
    assert narrow.sum() == pytest.approx(wide.sum(), rel=1e-3)
    assert narrow.max() > wide.max()
    assert int(np.argmax(narrow)) == 100


def test_the_drawing_library_is_loaded_when_a_plot_is_drawn_and_not_before() -> None:
    script = (
        "import sys; import server.season.page, server.season.command; "
        "print([name for name in sys.modules if name.split('.')[0] == 'matplotlib'])"
    )
    found = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=True
    )
    assert found.stdout.strip() == "[]"
