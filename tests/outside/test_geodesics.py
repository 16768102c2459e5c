"""Distances and bearings against published geodesic lines."""

from __future__ import annotations

import pytest
from geographiclib.geodesic import Geodesic
from pyproj import Geod

from layers.walking.nearest import WGS84, NearestBoxes

ONE_MILLIMETRE = 1e-3


def degrees(whole: int, minutes: int, seconds: float) -> float:
    return whole + minutes / 60.0 + seconds / 3600.0


def one_box(lon1: float, lat1: float, lon2: float, lat2: float) -> tuple[float, float]:
    """Distance in metres and bearing in degrees from the first place to a box at the second."""
    found = NearestBoxes([lon2], [lat2]).query(lon1, lat1, k=1)
    return float(found.distance_m[0]), float(found.bearing_deg[0])


def around(angle_deg: float) -> float:
    return angle_deg % 360.0


# Flinders Peak to Buninyong: ICSM, Geocentric Datum of Australia Technical Manual.
FLINDERS_PEAK = degrees(144, 25, 29.5244), -degrees(37, 57, 3.7203)
BUNINYONG = degrees(143, 55, 35.3839), -degrees(37, 39, 10.1561)
FLINDERS_TO_BUNINYONG_M = 54972.271
AZIMUTH_THERE = degrees(306, 52, 5.37)
AZIMUTH_BACK = degrees(127, 10, 25.07)
HUNDREDTH_OF_A_SECOND = 0.01 / 3600.0


def test_flinders_peak_to_buninyong_on_its_own_ellipsoid() -> None:
    there, back, distance = Geod(ellps="GRS80").inv(*FLINDERS_PEAK, *BUNINYONG)
    assert distance == pytest.approx(FLINDERS_TO_BUNINYONG_M, abs=ONE_MILLIMETRE)
    assert around(there) == pytest.approx(AZIMUTH_THERE, abs=HUNDREDTH_OF_A_SECOND)
    assert around(back) == pytest.approx(AZIMUTH_BACK, abs=HUNDREDTH_OF_A_SECOND)


def test_flinders_peak_to_buninyong_differs_by_less_than_a_millimetre_on_wgs84() -> None:
    distance, bearing = one_box(*FLINDERS_PEAK, *BUNINYONG)
    assert distance == pytest.approx(FLINDERS_TO_BUNINYONG_M, abs=ONE_MILLIMETRE)
    assert bearing == pytest.approx(AZIMUTH_THERE, abs=HUNDREDTH_OF_A_SECOND)
    assert one_box(*BUNINYONG, *FLINDERS_PEAK)[1] == pytest.approx(
        AZIMUTH_BACK, abs=HUNDREDTH_OF_A_SECOND
    )


def test_lands_end_to_john_o_groats() -> None:
    # 969954.166 m, initial bearing 9.1419, final 11.2972: the example that several public
    # test suites of geodesic routines share (WGS84).
    lands_end, john_o_groats = (-5.71475, 50.06632), (-3.07009, 58.64402)
    distance, bearing = one_box(*lands_end, *john_o_groats)
    assert distance == pytest.approx(969954.166, abs=ONE_MILLIMETRE)
    assert bearing == pytest.approx(9.1419, abs=5e-5)
    back = one_box(*john_o_groats, *lands_end)[1]
    assert around(back + 180.0) == pytest.approx(11.2972, abs=5e-5)


def test_nearly_opposite_places() -> None:
    # 19936288.579 m: a line that public test suites of geodesic routines share (WGS84).
    assert one_box(0.0, 0.0, 179.5, 0.5)[0] == pytest.approx(19936288.579, abs=ONE_MILLIMETRE)


def test_nearly_opposite_places_where_a_well_known_method_finds_no_answer() -> None:
    # Vincenty 1975 does not converge here, so the check is a second implementation.
    other = Geodesic.WGS84.Inverse(0.0, 0.0, 0.5, 179.7)
    distance, bearing = one_box(0.0, 0.0, 179.7, 0.5)
    assert distance == pytest.approx(other["s12"], abs=1e-6)
    assert bearing == pytest.approx(around(other["azi1"]), abs=1e-9)


def test_new_york_to_london_airport() -> None:
    # 5551759.400 m, azimuths 51.198883 and 107.821777: example line of the geographiclib
    # documentation (distance from memory; azimuths worked out with geographiclib 2.1).
    new_york, london = (-73.8, 40.6), (-0.5, 51.6)
    distance, bearing = one_box(*new_york, *london)
    assert distance == pytest.approx(5551759.400, abs=ONE_MILLIMETRE)
    assert bearing == pytest.approx(51.198883, abs=5e-7)
    back = one_box(*london, *new_york)[1]
    assert around(back + 180.0) == pytest.approx(107.821777, abs=5e-7)


# Karney, C. F. F., geographiclib for Python 2.1 (MIT licence), test/test_geodesic.py, WGS84:
# lat1, lon1, lat2, lon2 in degrees, distance in metres, azimuths at both ends in degrees.
KARNEY_LINES = """
35.60777 -139.44815 -11.17491 -69.95921 8935244.56048183 111.09874842956033 129.28927088970877
-21.97856 142.59065 41.84138 98.56635 8394328.894657671 -32.44456876433189 -41.84359951440466
-17.42761 173.34268 -15.84784 5.93557 16076603.163118068 -159.03355766119293 -20.78748465153699
6.96833 52.74123 -7.39675 206.17291 17102477.249695837 92.58158538631771 90.72169216592391
-58.93002 -8.90775 -8.91104 133.13503 11756066.021986462 140.96539790250068 19.255429433416598
-10.62672 -32.0898 5.883 -134.31681 11470869.386456301 -86.42671328674776 -80.47378097103487
-19.79938 -174.47484 -11.99349 -154.35109 2319004.860116939 71.16727578017154 65.58909977519923
-87.85331 85.66836 66.48646 16.09921 17286615.314714465 -65.12031304024275 -4.888658719272296
-25.72959 -144.90758 -57.70581 -269.17879 9413446.745245311 -153.6474686931172 -48.34398315887649
11.01307 138.25278 6.62726 247.05981 11911190.819018409 79.43682622782374 103.70809021552266
"""


@pytest.mark.parametrize("line", KARNEY_LINES.strip().splitlines())
def test_karneys_lines_also_where_longitudes_pass_180(line: str) -> None:
    lat1, lon1, lat2, lon2, length_m, azimuth1, azimuth2 = map(float, line.split())
    distance, bearing = one_box(lon1, lat1, lon2, lat2)
    assert distance == pytest.approx(length_m, abs=1e-6)
    assert bearing == pytest.approx(around(azimuth1), abs=1e-10)
    back = one_box(lon2, lat2, lon1, lat1)[1]
    assert around(back + 180.0) == pytest.approx(around(azimuth2), abs=1e-10)


def test_the_ellipsoid_is_wgs84() -> None:
    # EPSG ellipsoid 7030: a = 6378137 m, 1/f = 298.257223563.
    assert WGS84.a == 6378137.0
    assert 1.0 / WGS84.f == pytest.approx(298.257223563, abs=1e-9)
