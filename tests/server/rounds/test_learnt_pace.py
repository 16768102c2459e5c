"""The pace of a trail's own rounds: shown and offered, used only where it is taken."""

from __future__ import annotations

import html
import json
import re
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from fastapi.testclient import TestClient

from server.app import create_app
from server.command import main
from server.rounds.learnt import learnt_on
from server.settings import ServerSettings
from tests.server.conftest import HOST
from tests.server.rounds.test_planning import contents_of
from tests.server.small_trail import at, line, make_trail

ON = date(2026, 6, 30)
MIN_KM, AT_BOX = 20.0, 7.0
METRES = 82.06
"""Of a thousandth of a degree of longitude at 42.6 north (WGS 84)."""


@pytest.fixture(scope="module")
def walked(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Thirty walks of two observers along one lane, their times to the minute."""
    rng = np.random.default_rng(0)
    places = np.cumsum(rng.integers(1, 9, 20)).tolist()
    boxes = {f"B{number:02d}": at(place) for number, place in enumerate(places)}
    visits = []
    for walk in range(30):
        now = datetime(2026, 5, 1, 13, tzinfo=UTC) + timedelta(days=walk)
        chosen = sorted(rng.choice(20, 16, replace=False).tolist())
        before = places[chosen[0]]
        for number in chosen:
            metres = (places[number] - before) * METRES
            now += timedelta(
                minutes=float(metres / 1000.0 * MIN_KM * rng.normal(1.0, 0.05))
                + max(float(rng.normal(AT_BOX, 1.0)), 1.0)
            )
            before = places[number]
            visits.append(
                {
                    "box": f"B{number:02d}",
                    "seen_on": now.date().isoformat(),
                    "seen_at": now.replace(second=0, microsecond=0).isoformat(),
                    "observer": ("Ann", "Ben")[walk % 2],
                    "nest": "none",
                }
            )
    lane = {"name": "Lane", "kind": "footpath", "geometry": line((0, 0), (places[-1] + 1, 0))}
    path = tmp_path_factory.mktemp("learnt") / "walked.gpkg"
    return make_trail(path, boxes=boxes, paths=[lane], visits=visits)


def test_the_pace_of_known_walks_is_learnt_from_the_trail(walked: Path) -> None:
    found = learnt_on(contents_of(walked), ON)
    assert found is not None
    assert found.minutes_per_km == pytest.approx(MIN_KM, rel=0.1)
    assert found.minutes_at_box == pytest.approx(AT_BOX, rel=0.1)
    assert (found.walks, found.legs > 400) == (30, True)
    assert learnt_on(contents_of(walked), date(2026, 5, 5)) is None


def test_the_command_offers_it_and_uses_it_only_when_asked(
    walked: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    plain = ["walk", str(walked), "--on", ON.isoformat(), "--boxes", "B03", "B04"]
    assert main(plain) == 0
    said = capsys.readouterr().out
    assert re.search(r"Your rounds: (19|20|21) min/km and 7 min a box, from 4\d\d legs of 30", said)
    assert "the plan uses 12 and 5. To plan with it: --learnt-pace" in said
    assert main([*plain, "--json"]) == 0
    before = json.loads(capsys.readouterr().out)
    assert main([*plain, "--json", "--learnt-pace"]) == 0
    after = json.loads(capsys.readouterr().out)
    assert [stop["stop_minutes"] for stop in before["stops"]] == [5.0, 5.0]
    assert [stop["stop_minutes"] for stop in after["stops"]] == [7.0, 7.0]
    assert after["stops"][0]["leg_minutes"] > 1.5 * before["stops"][0]["leg_minutes"]


def test_without_enough_times_the_command_says_so(
    walked: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ["walk", str(walked), "--on", "2026-05-02", "--boxes", "B03", "--learnt-pace"]
    assert main(words) != 0
    assert "The times of visits show no pace yet" in capsys.readouterr().err


def test_the_command_of_a_week_offers_it_too(
    walked: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ["week", str(walked), "--on", ON.isoformat(), "--free", "Ann: 2026-07-01 300"]
    assert main(words) == 0
    assert "the plan uses 12 and 5. To plan with it: --learnt-pace" in capsys.readouterr().out
    took = []
    for more in ([], ["--learnt-pace"]):
        assert main([*words, "--json", *more]) == 0
        (walk,) = json.loads(capsys.readouterr().out)["walks"]
        took.append(walk["minutes"] / len(walk["boxes"]))
        assert ("stop_minutes=7" in walk["round"]) == bool(more)
    assert took[1] > 1.3 * took[0]


def test_one_press_on_the_page_plans_the_same_round_with_it(walked: Path) -> None:
    with TestClient(create_app(ServerSettings(trail=walked, on=ON)), base_url=HOST) as client:
        query = f"set=boxes&boxes=B03,B04&minutes=200&pace=normal&on={ON}"
        page = client.get(f"/round?{query}").text
        assert "the plan uses 12 and 5." in page
        (link,) = re.findall(r'<a href="/round\?([^"]+)">Plan with the pace of your rounds', page)
        again = client.get(f"/round?{html.unescape(link)}").text
        assert re.search(r"the plan uses (19|20|21) and 7\.", again)
        assert "Plan with the pace of your rounds" not in again
        assert 'name="minutes" value="200"' in again
        assert 'name="boxes" value="B03, B04"' in again or 'value="B03,B04"' in again
