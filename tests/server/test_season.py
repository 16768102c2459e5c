"""The season's report as page and call."""

from __future__ import annotations

import csv
import datetime as dt
import html
import io
import json
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from layers.trail.settings import Settings
from layers.trail.store import Trail
from server.app import create_app
from server.season.api import Season
from server.settings import ServerSettings
from tests.nesting.season.numbers import leaves, missing_from
from tests.nesting.season.reports import Visit, empty, fledged, lost, not_known
from tests.server.season_texts import plain, run, sentences

HOST = "http://127.0.0.1"

SMALL: dict[str, tuple[list[Visit], str]] = {
    "no visit": ([], "No box was visited in 2026."),
    "no nest": (empty("A1"), "In 2026, 1 box was checked, and none held a nest"),
    "one nest": (fledged("A1"), "The 1 nest with a known outcome fledged young."),
    "all lost": ([*lost("A1"), *lost("A2")], "All 2 nests with a known outcome were lost."),
    "none lost": ([*fledged("A1"), *fledged("A2")], "All 2 nests with a known outcome fledged"),
    "unknown only": (not_known("A1"), "The outcome of 1 nest is unknown."),
    "one section empty": (fledged("A1"), "Pond Meadow: no nest with eggs."),
    "another year": (fledged("A1", year=2025), "No box was visited in 2026."),
}
"""What was seen -> what the report of 2026 then says."""

AUTUMN = dt.date(2026, 9, 1)
"""By then every nest of the small trails is over."""


@pytest.fixture(params=SMALL)
def small(request: pytest.FixtureRequest, tmp_path: Path) -> tuple[Path, str]:
    """A trail of two boxes, and a sentence of its report."""
    visits, sentence = SMALL[request.param]
    path = tmp_path / "small.gpkg"
    with Trail.create(path, Settings("Alderbeck Reserve", "America/New_York")) as trail:
        sections = {"A1": "Mill Wood", "A2": "Pond Meadow"}
        trail.add_rows("boxes", [{"box": box, "section": name} for box, name in sections.items()])
        rows = [
            row | {"seen_on": str(row["seen_on"]), "entered_at": row["entered_at"].isoformat()}
            for row in visits
        ]
        trail.add_rows("visits", rows)
    return path, sentence


@pytest.fixture
def small_client(small: tuple[Path, str]) -> Iterator[TestClient]:
    app = create_app(ServerSettings(trail=small[0], on=AUTUMN))
    with TestClient(app, base_url=HOST) as opened:
        yield opened


def test_little_data_is_worded_plainly_by_page_call_and_command(
    small: tuple[Path, str], small_client: TestClient, capsys: pytest.CaptureFixture[str]
) -> None:
    path, sentence = small
    asked = {"year": 2026}
    assert sentence in plain(small_client.get("/season", params=asked).text)
    told = Season.model_validate(small_client.get("/api/season", params=asked).json())
    assert any(sentence in one.text for one in told.sentences)
    assert sentence in re.sub(r"\s+", " ", run(capsys, path, "--year", 2026, "--on", AUTUMN))
    assert json.loads(run(capsys, path, "--year", 2026, "--on", AUTUMN, "--json")) == (
        small_client.get("/api/season", params=asked).json()
    )


def test_every_sentence_of_the_page_is_in_the_json_with_its_numbers(client: TestClient) -> None:
    page = client.get("/season?year=2026").text
    told = client.get("/api/season?year=2026").json()
    by_text = {one["text"]: one["values"] for one in told["sentences"]}
    found = sentences(page)
    assert found == list(by_text)
    facts = {v for v in leaves({**told, "sentences": []}) if isinstance(v, str | int | float)}
    facts.add(len(told["groups"]["all_years"]["comparison"]["compared"]))
    facts.add(len(told["years"]["with_last"]["compared"]))
    for text in found:
        values = list(by_text[text].values())
        assert missing_from(text, values) == [], text
        assert [v for v in values if not isinstance(v, str) and v not in facts] == [], text


def test_the_first_lines_say_how_the_boxes_did(client: TestClient) -> None:
    first = sentences(client.get("/season?year=2026").text)[:3]
    assert first[0] == ("In 2026, 43 of 57 boxes that were checked held a nest with eggs or young.")
    assert re.match(r"About \d+ young fledged \(likely \d+ to \d+\)", first[1])
    assert re.match(r"Of \d+ nests with a known outcome", first[2])


def test_the_call_has_the_documented_form(client: TestClient) -> None:
    told = Season.model_validate(client.get("/api/season").json())
    assert (told.season, told.trail) == (2026, "Alderbeck Reserve")
    assert told.per_box.about in told.methods


def test_the_season_species_and_grouping_can_be_requested(client: TestClient) -> None:
    asked = {"year": "2025", "species": "house wren", "by": "guard"}
    page = client.get("/season", params=asked).text
    assert "<h1>Alderbeck Reserve, season 2025: house wren</h1>" in page
    for chosen in ("2025", "house wren", "guard"):
        assert f"<option selected>{chosen}</option>" in page
    told = client.get("/api/season", params=asked).json()
    assert (told["season"], told["species"], told["groups"]["by"]) == (2025, "house wren", "guard")


@pytest.mark.parametrize(
    ("query", "status", "sentence"),
    [
        ("by=moon", 422, "Expected one of section, guard"),
        ("species=dodo", 422, "Expected a species of the guide"),
        ("year=12", 422, "greater than or equal to 1900"),
        ("years=2026", 422, "only names that this address takes"),
    ],
)
@pytest.mark.parametrize("address", ["/season", "/api/season", "/season/plots/weeks.svg"])
def test_a_question_that_cannot_be_answered_is_refused(
    client: TestClient, address: str, query: str, status: int, sentence: str
) -> None:
    answer = client.get(f"{address}?{query}")
    assert answer.status_code == status
    assert sentence in answer.text


def test_every_plot_and_table_of_the_page_is_at_its_address(client: TestClient) -> None:
    page = client.get("/season?year=2025&by=habitat").text
    plots = [html.unescape(at) for at in re.findall(r'<img src="([^"]+)"', page)]
    tables = [html.unescape(at) for at in re.findall(r'href="(/season/tables/[^"]+)"', page)]
    assert len(plots) == 6
    assert len(tables) > 12
    for at in plots:
        answer = client.get(at)
        assert answer.headers["content-type"] == "image/svg+xml"
        assert answer.headers["content-security-policy"].startswith("default-src 'none'")
        assert answer.headers["etag"]
        assert answer.text.startswith("<svg ")
    for at in tables:
        answer = client.get(at)
        assert answer.headers["content-type"] == "text/csv; charset=utf-8"
        rows = list(csv.reader(io.StringIO(answer.text)))
        assert len(rows) > 1
        assert len({len(row) for row in rows}) == 1


def test_a_long_table_is_cut_on_the_page_and_whole_in_its_file(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("server.season.page.MOST_ROWS", 7)
    page = client.get("/season?year=2025").text
    assert "The first 7 of 58 rows; the CSV file has them all." in page
    assert len(client.get("/season/tables/boxes.csv?year=2025").text.splitlines()) == 59


def test_a_plot_or_table_that_is_not_there_is_refused(client: TestClient) -> None:
    assert "Expected a plot of season 2026" in client.get("/season/plots/moon.svg").text
    assert client.get("/season/plots/weeks.svg?year=2019").status_code == 404
    assert "Expected a table (measures, " in client.get("/season/tables/moon.csv").text


def test_text_of_a_person_is_escaped(client: TestClient, trail_path: Path) -> None:
    hostile = "<script>window.broken = 1</script>"
    with Trail.open(trail_path) as trail, trail.write() as connection:
        connection.execute("UPDATE boxes SET section = ?", (hostile,))
    page = client.get("/season").text
    assert hostile not in page
    assert html.escape(hostile) in page


def test_a_saved_visit_changes_the_report(client: TestClient, trail_path: Path) -> None:
    before = client.get("/season?year=2027&on=2027-05-01").text
    assert "No box was visited in 2027." in before
    with Trail.open(trail_path) as trail:
        trail.add_rows("visits", [{"box": "M01", "seen_on": "2027-04-01", "nest": "none"}])
    assert "2027, 1 box was checked" in client.get("/season?year=2027&on=2027-05-01").text
