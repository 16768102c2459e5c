"""Differences of two days show nothing: what is published changes with a release alone."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

import pytest

from layers.publishing import PublicView
from layers.trail.public_rules import PublicRules
from layers.trail.releases import releases
from layers.trail.store import Trail
from server.live.clock import Clock
from server.live.public_views import PublicViews, cautions_of, public_view_of, released_view
from server.live.trail import LiveTrail
from server.public.site import site
from server.terminal import opened
from tests.publishing.planted import planted, write

RULES = PublicRules(unmarked="shown", ongoing="in use", delay_days=1)
START = dt.date(2026, 5, 20)


@pytest.fixture
def trail(tmp_path: Path) -> Path:
    return write(tmp_path / "trail.gpkg", planted(), RULES)


@contextmanager
def views_on(trail: Path, on: dt.date) -> Iterator[PublicViews]:
    live = LiveTrail(trail, clock=Clock(on), busy_s=5.0)
    live.open()
    yield PublicViews(live)
    live.close()


def _correct(trail: Trail, number: int, on: dt.date) -> None:
    """An earlier visit that saw eggs is corrected to five of them."""
    row = trail.rows("SELECT visit_id, box, seen_on FROM visits WHERE eggs > 0 ORDER BY fid")
    visit, box, seen_on = row[number]
    new = {"visit_id": f"correction {number}", "box": box, "seen_on": seen_on, "eggs": 1}
    trail.add_rows("visits", [new | {"replaces": visit, "species": "house wren"}])


def _change(sql: str) -> Callable[[Trail, int, dt.date], None]:
    def change(trail: Trail, number: int, on: dt.date) -> None:
        with trail.write() as connection:
            connection.execute(sql, {"box": f"Zq{number:03d}", "on": on.isoformat()})

    return change


CHANGES = (
    _change("UPDATE boxes SET public = 'hidden' WHERE box = :box"),
    _change("UPDATE boxes SET public = 'shown' WHERE box = :box"),
    _change("UPDATE boxes SET geom = (SELECT geom FROM boxes LIMIT 1) WHERE box = :box"),
    _change("UPDATE boxes SET removed_on = :on WHERE box = :box"),
    _change("INSERT INTO boxes (box, geom) SELECT 'new ' || :on, geom FROM boxes WHERE box = :box"),
    _change(
        "INSERT INTO visits (box, seen_on, eggs, species) VALUES (:box, :on, 5, 'tree swallow')"
    ),
    _correct,
)


def test_of_60_days_two_differ_only_with_a_release_between_them(trail: Path) -> None:
    seen: dict[dt.date, set[PublicView]] = {}
    with opened(trail) as (file, at_first):
        contents, unreleased = at_first, 0
        for number in range(60):
            on = START + dt.timedelta(days=number)
            before = released_view(file, contents, on)
            CHANGES[number % len(CHANGES)](file, number % 40, on)
            contents = contents.caught_up(file)
            assert released_view(file, contents, on) == before
            seen.setdefault(before.released_on, set()).add(before)
            unreleased += public_view_of(file, contents, on) != before
    assert [len(of_month) for of_month in seen.values()] == [1, 1, 1]
    assert len(set.union(*seen.values())) == 3
    # On most days something had changed that was not shown.
    assert unreleased > 40


def test_a_release_made_by_one_process_is_that_of_all(trail: Path) -> None:
    with views_on(trail, START) as views:
        view = views()
        with Trail.open(trail) as file:
            file.mark_boxes(dict.fromkeys(file.box_ids(), "hidden"))
    with opened(trail) as (file, contents):
        assert released_view(file, contents, START) == view


def test_the_keeper_makes_a_release_anew_and_a_running_server_shows_it(trail: Path) -> None:
    with views_on(trail, START) as views:
        before = views()
        with opened(trail) as (file, _):
            file.mark_boxes(dict.fromkeys(file.box_ids(), "hidden"))
        assert views() is before
        with opened(trail) as (file, contents):
            released_view(file, contents, START, anew=True)
        assert views().cells == ()


def test_a_change_of_the_rules_shows_at_once(trail: Path) -> None:
    with views_on(trail, START) as views, Trail.open(trail) as file:
        assert views().cells
        file.change_settings(public_rules=replace(RULES, open="no"))
        assert views().cells == ()


def test_every_file_of_a_stored_release_is_the_same_bytes(trail: Path) -> None:
    with opened(trail) as (file, contents):
        made = [site(released_view(file, contents, START)) for _ in range(2)]
    assert [one() for one in made[0].values()] == [one() for one in made[1].values()]


def test_a_trail_that_cannot_be_written_is_shown_as_it_is(trail: Path) -> None:
    trail.chmod(0o444)
    with opened(trail) as (file, contents):
        file.rows("PRAGMA query_only = 1")
        assert released_view(file, contents, START).cells
        assert releases(file) == []


def test_the_keeper_is_warned_of_boxes_that_were_published_finer_before(trail: Path) -> None:
    shown = dict.fromkeys(planted().boxes["box"], "shown")
    with Trail.open(trail) as file:
        file.mark_boxes(shown)
    with opened(trail) as (file, contents):
        released_view(file, contents, START)
        assert not any("published earlier" in one for one in cautions_of(file, contents, START))
        file.mark_boxes({"Zq003": "coarse"})
    with opened(trail) as (file, contents):
        warned = " ".join(cautions_of(file, contents, START))
    assert "40 boxes were published earlier to within 786\u00a0m" in warned
