"""Walking paces against published values."""

from __future__ import annotations

import math

import pytest

from layers.walking.pace import PACES, Flat, off_path_minutes, tobler_kmh

# Irtenkauf 2013: Tobler's speeds in km/h at angles in degrees, to two places; the slope is the
# tangent of the angle.
TOBLER_BY_ANGLE = {
    -70.0: 0.00,
    -50.0: 0.11,
    -30.0: 0.95,
    -10.0: 3.86,
    -2.86: 6.00,
    0.0: 5.04,
    2.86: 4.23,
    10.0: 2.72,
    30.0: 0.67,
    50.0: 0.08,
    70.0: 0.00,
}

# Worked out from 6 exp(-3.5 |S + 0.05|), Tobler 1993, NCGIA Technical Report 93-1.
TOBLER_BY_SLOPE = {
    -0.5: 1.2420,
    -0.3: 2.5012,
    -0.2: 3.5493,
    -0.1: 5.0367,
    -0.05: 6.0000,
    0.0: 5.0367,
    0.05: 4.2281,
    0.1: 3.5493,
    0.2: 2.5012,
    0.3: 1.7625,
    0.5: 0.8753,
}

# Langmuir's rule over 1 km, seconds, worked out from 0.72 along, 6 up, -2 and +2 down.
LANGMUIR_SECONDS = {0.0: 720.0, 0.1: 1320.0, 0.2: 1920.0, -0.1: 520.0, -0.15: 420.0, -0.3: 1320.0}


def minutes(name: str, run_m: float, rise_m: float) -> float:
    return float(PACES[name].minutes(run_m, rise_m))


@pytest.mark.parametrize(("angle_deg", "kmh"), TOBLER_BY_ANGLE.items())
def test_toblers_speed_at_published_angles(angle_deg: float, kmh: float) -> None:
    assert tobler_kmh(math.tan(math.radians(angle_deg))) == pytest.approx(kmh, abs=0.005)


@pytest.mark.parametrize(("slope", "kmh"), TOBLER_BY_SLOPE.items())
def test_a_kilometre_by_tobler_takes_what_its_formula_says(slope: float, kmh: float) -> None:
    assert minutes("normal", 1000.0, 1000.0 * slope) == pytest.approx(60.0 / kmh, rel=1e-4)


def test_toblers_speed_is_symmetric_about_a_descent_of_one_in_twenty() -> None:
    assert tobler_kmh(-0.1) == pytest.approx(float(tobler_kmh(0.0)))
    assert tobler_kmh(-0.3) == pytest.approx(float(tobler_kmh(0.2)))


def test_off_the_path_tobler_walks_at_six_tenths() -> None:
    # 3.0220 km/h on level ground: 0.6 x 5.0367 (Tobler 1993).
    assert off_path_minutes(PACES["normal"], 1000.0) == pytest.approx(60.0 / 3.0220, rel=2e-5)


def test_twenty_kilometres_with_a_kilometre_of_ascent_by_naismith() -> None:
    # 20 / 5 h + 1000 / 600 h = 5 h 40 min (Naismith 1892, metric form).
    assert minutes("naismith", 20_000.0, 1000.0) == pytest.approx(340.0)


def test_naismiths_rule_as_extra_length_gives_the_published_5_h_36_min() -> None:
    # The same walk with 8 m of length for each metre of ascent: 28 km at 5 km/h.
    assert minutes("naismith", 20_000.0 + 8.0 * 1000.0, 0.0) == pytest.approx(336.0)


def test_naismith_gives_nothing_back_for_a_descent() -> None:
    assert minutes("naismith", 5000.0, -600.0) == pytest.approx(60.0)


@pytest.mark.parametrize(("slope", "seconds"), LANGMUIR_SECONDS.items())
def test_a_kilometre_by_langmuir(slope: float, seconds: float) -> None:
    assert minutes("langmuir", 1000.0, 1000.0 * slope) * 60.0 == pytest.approx(seconds)


def test_a_flat_pace_heeds_no_slope() -> None:
    assert float(Flat(4.0).minutes(2000.0, 300.0)) == pytest.approx(30.0)
