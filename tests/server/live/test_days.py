"""A day that turns while the server runs, and a read that fails."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime, timedelta
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from layers.errors import NotATrail
from layers.trail.store import Trail
from server.app import create_app
from server.live.clock import Clock, utc_now
from server.live.trail import LiveTrail
from server.settings import ServerSettings
from tests.server.conftest import HOST


@pytest.fixture
def live(trail_path: Path) -> Iterator[LiveTrail]:
    served = LiveTrail(trail_path, clock=Clock(), busy_s=1.0)
    served.open()
    yield served
    served.close()


def test_a_day_that_turned_is_reported_though_another_thread_met_it_first(
    live: LiveTrail, monkeypatch: pytest.MonkeyPatch
) -> None:
    live.stale()
    assert not live.stale()
    tomorrow = utc_now() + timedelta(days=1)
    monkeypatch.setattr("server.live.clock.utc_now", lambda: tomorrow)
    monkeypatch.setattr(Clock, "now_s", tomorrow.timestamp)
    live.today()
    assert live.stale()
    assert not live.stale()


def test_midnight_between_two_looks_at_the_clock_costs_no_day(
    live: LiveTrail, monkeypatch: pytest.MonkeyPatch
) -> None:
    zone = live.contents().settings.zone
    midnight = datetime(2026, 6, 4, tzinfo=zone)
    looks = iter([midnight - timedelta(milliseconds=1)])
    monkeypatch.setattr("server.live.clock.utc_now", lambda: next(looks, midnight))
    monkeypatch.setattr(Clock, "now_s", (midnight + timedelta(days=9999)).timestamp)
    live.today()
    monkeypatch.setattr(Clock, "now_s", midnight.timestamp)
    assert live.today() == date(2026, 6, 4)


def test_what_could_not_be_read_is_not_passed_over(live: LiveTrail, trail_path: Path) -> None:
    with Trail.open(trail_path) as trail, trail.write() as connection:
        connection.execute("UPDATE trail SET units = 'furlongs'")
    for _ in range(2):
        with pytest.raises(NotATrail, match="holds what cannot be used"):
            live.contents()
    with Trail.open(trail_path) as trail, trail.write() as connection:
        connection.execute("UPDATE trail SET units = 'us'")
    assert live.contents().settings.units == "us"


def test_a_page_made_as_the_day_turned_is_not_cached_for_the_new_day(
    trail_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    app = create_app(ServerSettings(trail=trail_path))
    with TestClient(app, base_url=HOST) as client:
        monkeypatch.setattr(app.state.live, "today", lambda: date(2026, 6, 3))

        def midnight(live: LiveTrail, on: date | None) -> date:
            asked = live.today() if on is None else on
            monkeypatch.setattr(live, "today", lambda: date(2026, 6, 4))
            return asked

        monkeypatch.setattr("server.due.page.requested_day", midnight)
        assert "20260603" in client.get("/due").headers["etag"]
