"""Compile ahead what pages and rounds need, so that no reader waits for it.

On a new machine that takes a minute or two on two processors, once; afterwards each process
loads the compiled code in a second. `boxround prepare` does it, and the first `boxround serve`.
"""

from __future__ import annotations

import datetime as dt
import subprocess
import sys
import time
from collections.abc import Callable
from typing import TypeVar
from zoneinfo import ZoneInfo

import numpy as np

from layers.compiled import Compiler
from layers.nesting.compiled import compiled as nesting
from layers.nesting.dating import Dates, date_attempts, explained, posterior
from layers.nesting.guide import standard_guide
from layers.nesting.histories import Histories, read_histories
from layers.nesting.season.exposure import season_table
from layers.nesting.timeline import timeline
from layers.trail.coding import code_visits
from layers.walking.compiled import compiled as walking
from layers.walking.network.attach import Site
from layers.walking.network.build import build_network
from layers.walking.network.lines import Line
from layers.walking.pace import NORMAL
from layers.walking.round import RoundProblem, StopRequest, plan

T = TypeVar("T")

ROUNDS_ONLY = "rounds"
"""The word by which the second process is started."""


def _unprepared() -> list[Compiler]:
    return [room for room in (nesting, walking) if not room.is_ready]


def needs_preparing() -> bool:
    """Whether something is not compiled yet that could be, once for all later starts."""
    return any(room.can_be_ready for room in _unprepared())


def prepare(say: Callable[[str], None]) -> None:
    """Compile everything that is not compiled yet, and say what is done and how long it takes.

    Rounds are compiled by a second process meanwhile. Does nothing where an earlier call came
    to its end with the same code.
    """
    rooms = _unprepared()
    if not rooms:
        return
    say("Compiling, once on this machine (a minute or two) ...")
    with subprocess.Popen([sys.executable, "-m", "server.live.prepare", ROUNDS_ONLY]):
        _nests(say)
    # What the other process compiled is loaded here; what it could not do, fails here by name.
    _timed("  planning rounds", _plan, say)
    for room in rooms:
        room.set_ready()


def _nests(say: Callable[[str], None]) -> None:
    histories = _timed("  reading visits", _read, say)
    dates = _timed("  dating nests", lambda: date_attempts(histories), say)
    _timed("  what each box is on each day", lambda: _show(histories, dates), say)


def _timed(what: str, work: Callable[[], T], say: Callable[[str], None]) -> T:
    begun = time.perf_counter()
    result = work()
    say(f"{what}: {time.perf_counter() - begun:.1f} s")
    return result


def _read() -> Histories:
    """A box with a nest whose last age does not fit, and one that failed before its eggs hatched.

    So each way of dating is gone through, that of looking for a slip of the pen too.
    """
    looks: list[tuple[str, str, dict[str, int]]] = [
        ("A1", "2026-05-11", {"eggs": 5, "young": 0}),
        ("A1", "2026-05-18", {"eggs": 5, "young": 0}),
        ("A1", "2026-05-25", {"young": 5, "young_days": 5}),
        ("A1", "2026-06-02", {"young": 5, "young_days": 3}),
        ("A2", "2026-05-11", {"eggs": 4, "young": 0}),
        ("A2", "2026-05-18", {"eggs": 0, "young": 0}),
    ]
    visits = [
        {
            "visit_id": f"prepare-{number}",
            "box": box,
            "seen_on": dt.date.fromisoformat(day),
            "entered_at": dt.datetime(2026, 7, 1, 20, tzinfo=dt.UTC),
            "species": "eastern bluebird",
            "opened": "yes",
            **counts,
        }
        for number, (box, day, counts) in enumerate(looks)
    ]
    coded = code_visits(
        visits, boxes=("A1", "A2"), timezone=ZoneInfo("UTC"), signs_words=(), actions_words=()
    )
    return read_histories(coded, standard_guide(), season_starts="01-01")


def _show(histories: Histories, dates: Dates) -> None:
    """What the map shows on a day, each day of a nest's own page, and the season's table."""
    year_end = dt.date(2026, 12, 31)
    timeline(histories, dates, season=2026, on=year_end).on(dt.date(2026, 6, 3))
    posterior(histories, dates, 0)
    explained(histories, dates, 0)
    season_table(histories, dates, on=year_end)


def _plan() -> None:
    """A round of more stops than are tried in every order, along one path."""
    lon = np.linspace(0.0, 0.02, 20)
    lat = 0.001 * np.sin(lon * 500.0)
    path = Line("", "path", "all", None, False, lon, lat, np.full(len(lon), np.nan))
    network, _ = build_network([path])
    requests = tuple(StopRequest(str(number), float(lon[number]), 0.0005) for number in range(14))
    start = Site("", 0.0, 0.0)
    plan(RoundProblem(network, requests, start), pace=NORMAL)
    plan(RoundProblem(network, requests, start, budget_minutes=30.0, walkers=2), pace=NORMAL)


if __name__ == "__main__":
    if sys.argv[1:] == [ROUNDS_ONLY]:
        _plan()
    else:
        prepare(lambda text: print(text, file=sys.stderr, flush=True))
