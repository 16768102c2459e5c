"""Made recordings of known paths, merged: as long as the path, and no two paths made one."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from layers.walking.network.build import build_network
from layers.walking.network.lines import Line
from layers.walking.network.recordings import merge_recordings
from tests.walking.parks import PLANE, line

Floats = NDArray[np.float64]

SHARE = np.linspace(0.0, 1.0, 400)
MAIN = np.column_stack([1500.0 * SHARE, 120.0 * np.sin(6.0 * SHARE) + 60.0 * np.sin(14.0 * SHARE)])
CROSSING = np.column_stack([700.0 + 150.0 * (SHARE - 0.5), 500.0 * (SHARE - 0.5) + 20.0])


def beside(xy: Floats, apart_m: float) -> Floats:
    way = np.gradient(xy, axis=0)
    way /= np.linalg.norm(way, axis=1, keepdims=True)
    return xy + apart_m * np.column_stack([-way[:, 1], way[:, 0]])


PARALLEL = beside(MAIN, 12.0)[120:230]


def length_m(xy: Floats) -> float:
    return float(shapely.LineString(xy).length)


def recorded(
    rng: np.random.Generator, xy: Floats, name: str, *, noise_m: float, kind: str = "recording"
) -> Line:
    """One walk along a path, in either direction, its ends cut by up to 1 %."""
    along = np.r_[0.0, np.cumsum(np.linalg.norm(np.diff(xy, axis=0), axis=1))]
    begin, end = along[-1] * rng.uniform(0.0, 0.01), along[-1] * rng.uniform(0.99, 1.0)
    at = np.arange(begin, end, 6.0)
    noise = gaussian_filter1d(rng.normal(size=(len(at) + 100, 2)), 4.0, axis=0)[50:-50]
    walked = np.column_stack([np.interp(at, along, values) for values in xy.T])
    walked += noise * noise_m / noise.std()
    if rng.random() < 0.5:
        walked = walked[::-1]
    return line(*map(tuple, walked), name=name, kind=kind, heights=[40.0] * len(at))


def recordings(seed: int, times: int, noise_m: float, **paths: Floats) -> list[Line]:
    rng = np.random.default_rng(seed)
    return [
        recorded(rng, xy, f"{name} {number}", noise_m=noise_m)
        for name, xy in paths.items()
        for number in range(times)
    ]


def lengths_m(lines: tuple[Line, ...]) -> list[float]:
    return [length_m(PLANE.xy(one.lon, one.lat)) for one in lines]


@pytest.mark.parametrize(
    ("times", "noise_m", "seed"),
    [
        (3, 1.0, 0),
        (3, 8.0, 1),
        (8, 2.5, 2),
        *(
            pytest.param(times, noise_m, seed, marks=pytest.mark.long)
            for times in (3, 5, 8)
            for noise_m in (1.0, 2.5, 5.0, 8.0)
            for seed in range(3, 6)
        ),
    ],
)
def test_recordings_of_one_path_become_one_as_long_as_it(
    times: int, noise_m: float, seed: int
) -> None:
    made, merged = merge_recordings(recordings(seed, times, noise_m, main=MAIN))
    assert sum(lengths_m(made)) == pytest.approx(length_m(MAIN), rel=0.03)
    assert len(merged[0].names) == times
    assert 0.4 * noise_m < merged[0].spread_m < 1.6 * noise_m
    assert made[0].height_m == pytest.approx(40.0)


@pytest.mark.parametrize("noise_m", [2.5, pytest.param(1.0, marks=pytest.mark.long)])
def test_paths_twelve_metres_apart_and_crossing_stay_paths_of_their_own(noise_m: float) -> None:
    paths = {"main": MAIN, "crossing": CROSSING, "parallel": PARALLEL}
    made, merged = merge_recordings(recordings(1, 3, noise_m, **paths))
    assert all(len({name.split()[0] for name in one.names}) == 1 for one in merged)
    assert sorted(len(one.names) for one in merged) == [3, 3, 3]
    whole = sum(map(length_m, paths.values()))
    assert sum(lengths_m(made)) == pytest.approx(whole, rel=0.03)


def test_what_was_not_recorded_is_never_moved_and_the_report_says_what_was_merged() -> None:
    rng = np.random.default_rng(3)
    lines = [
        recorded(rng, MAIN, name, noise_m=3.0, kind=kind)
        for name, kind in (("Walk 1", "recording"), ("Walk 2", "Recorded"), ("Ride", "track"))
    ]
    made, merged = merge_recordings(lines)
    assert made[0] is lines[2]
    assert [sorted(one.names) for one in merged] == [["Walk 1", "Walk 2"]]
    _, report = build_network(lines)
    (sentence,) = (one for one in report.sentences() if "recorded along one path" in one)
    assert " were recorded along one path and merged into 1" in sentence
    assert sentence.endswith('take the word "recorded" out of the kind of one.')


def test_recordings_that_were_merged_are_apart_again_once_one_is_called_something_else() -> None:
    lines = recordings(4, 2, 2.5, main=MAIN)
    assert len(merge_recordings(lines)[0]) == 1
    apart = [lines[0], replace(lines[1], kind="path")]
    assert merge_recordings(apart) == (tuple(apart), ())
