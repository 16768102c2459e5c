"""Walking times and distances between places, and the ways themselves."""

from __future__ import annotations

import numpy as np
import pytest

from layers.errors import NotKnown
from layers.walking import distances
from layers.walking.distances import Walking
from layers.walking.nearest import WGS84
from layers.walking.network.attach import attach
from layers.walking.network.build import build_network
from layers.walking.pace import NORMAL, Flat, Pace, off_path_minutes
from tests.sampling import one_in
from tests.walking.parks import line, make_park, site

pytestmark = pytest.mark.slow

SLOPE = build_network([line((0, 0), (1000, 0), heights=[0.0, 100.0])])[0]


def park_walking(seed: int, pace: Pace) -> Walking:
    park = make_park(seed, boxes=30)
    return Walking(attach(build_network(park.lines())[0], park.sites()), pace)


def test_uphill_and_downhill_take_the_times_of_the_pace() -> None:
    walking = Walking(attach(SLOPE, [site(0, 0, "low"), site(1000, 0, "high")]), NORMAL)
    # Tobler 1993 at slopes 0.1 and -0.1: 3.5493 and 5.0367 km/h.
    assert walking.minutes[0, 1] == pytest.approx(60.0 / 3.5493, rel=1e-4)
    assert walking.minutes[1, 0] == pytest.approx(60.0 / 5.0367, rel=1e-4)
    assert walking.length_m[0, 1] == walking.length_m[1, 0] == pytest.approx(1000.0, abs=1e-3)


def test_legs_off_the_path_count_at_both_ends_and_go_slower() -> None:
    walking = Walking(attach(SLOPE, [site(0, 30, "a"), site(0, -12, "b")]), Flat(5.0))
    assert walking.length_m[0, 1] == pytest.approx(42.0, abs=1e-3)
    assert walking.minutes[0, 1] == pytest.approx(
        float(off_path_minutes(Flat(5.0), 42.0)), rel=1e-4
    )


def test_a_place_is_no_way_from_itself() -> None:
    walking = Walking(attach(SLOPE, [site(0, 30, "a")]), Flat())
    assert (walking.minutes.tolist(), walking.length_m.tolist()) == ([[0.0]], [[0.0]])


@pytest.mark.parametrize("seed", one_in(6, range(6)))
@pytest.mark.parametrize("pace", [Flat(), NORMAL], ids=["level", "by slope"])
def test_no_way_by_a_third_place_is_quicker(seed: int, pace: Pace) -> None:
    minutes = park_walking(seed, pace).minutes
    by_third = (minutes[:, :, None] + minutes[None, :, :]).min(axis=1)
    assert (minutes <= by_third + 1e-9).all()


def test_on_the_level_there_and_back_are_equal() -> None:
    walking = park_walking(0, Flat())
    assert walking.minutes == pytest.approx(walking.minutes.T)
    assert walking.length_m == pytest.approx(walking.length_m.T)


def test_no_way_is_shorter_than_the_straight_line() -> None:
    walking = park_walking(2, Flat())
    sites = walking.attached.sites
    for one in range(0, 30, 7):
        for two in range(30):
            straight = WGS84.inv(sites[one].lon, sites[one].lat, sites[two].lon, sites[two].lat)[2]
            assert walking.length_m[one, two] >= straight - 1e-3


@pytest.mark.parametrize("pace", [Flat(), NORMAL], ids=["flat", "normal"])
def test_a_way_is_as_long_as_its_distance_says(pace: Pace) -> None:
    walking = park_walking(3, pace)
    for one, two in [(0, 1), (5, 20), (29, 3), (7, 7)]:
        way = walking.way(one, two)
        length_m = WGS84.line_length(way.lon, way.lat) if len(way.lon) > 1 else 0.0
        assert length_m == pytest.approx(walking.length_m[one, two], abs=1e-3)
        ends = [(way.lon[at], way.lat[at]) for at in (0, -1)]
        sites = walking.attached.sites
        assert ends == [(sites[number].lon, sites[number].lat) for number in (one, two)]


def test_a_way_over_hills_is_as_long_as_its_distance_says() -> None:
    hilly = [line((0, 0), (500, 40), (1000, 0), heights=[0, 90, 0])]
    hilly.append(line((0, 0), (500, -400), (1000, 0), name="Around", heights=[0, 0, 0.1]))
    walking = Walking(
        attach(build_network(hilly)[0], [site(0, 0, "a"), site(1000, 0, "b")]), NORMAL
    )
    way = walking.way(0, 1)
    assert WGS84.line_length(way.lon, way.lat) == pytest.approx(walking.length_m[0, 1], abs=1e-3)


def test_a_way_to_a_box_that_is_only_looked_at_stays_on_the_path() -> None:
    walking = Walking(attach(SLOPE, [site(0, 0, "a"), site(70, 25, "B1", watch_only=True)]), Flat())
    way = walking.way(0, 1)
    assert walking.length_m[0, 1] == pytest.approx(70.0, abs=1e-3)
    assert WGS84.inv(way.lon[-1], way.lat[-1], site(70, 0).lon, site(70, 0).lat)[2] < 1e-3


def test_where_no_way_leads_it_is_said() -> None:
    apart = build_network([line((0, 0), (90, 0)), line((0, 600), (90, 600), name="Islet")])[0]
    walking = Walking(attach(apart, [site(0, 0, "Car Park"), site(0, 601, "B7")]), Flat())
    assert np.isinf(walking.minutes[0, 1])
    with pytest.raises(NotKnown, match="No way leads from Car Park to B7"):
        walking.way(0, 1)


def test_the_shorter_of_two_paths_between_the_same_places_is_taken() -> None:
    lines = [line((0, 0), (100, 0)), line((0, 0), (50, 30), (100, 0), name="Detour")]
    walking = Walking(attach(build_network(lines)[0], [site(0, 0, "a"), site(100, 0, "b")]), Flat())
    assert walking.length_m[0, 1] == pytest.approx(100.0, abs=1e-3)


def test_the_nearest_by_walking_need_not_be_the_nearest_in_a_straight_line() -> None:
    river = build_network([line((0, 0), (300, 0), (300, 20), (0, 20))])[0]
    sites = [site(0, 0, "here"), site(0, 21, "across"), site(100, 2, "along"), site(900, 0, "off")]
    walking = Walking(attach(river, sites), Flat())
    assert walking.length_m[0].argsort()[1:3].tolist() == [2, 1]


def test_working_in_pieces_gives_the_same_distances(monkeypatch: pytest.MonkeyPatch) -> None:
    whole = park_walking(4, NORMAL)
    monkeypatch.setattr(distances, "CELLS", 200)
    pieces = park_walking(4, NORMAL)
    assert pieces.minutes.tolist() == whole.minutes.tolist()
    assert pieces.length_m.tolist() == whole.length_m.tolist()
