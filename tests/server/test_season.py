"""The season's report as page, call, command and file."""

from __future__ import annotations

import csv
import datetime as dt
import html
import io
import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pypdf
import pytest
from axe_playwright_python.sync_playwright import Axe
from fastapi.testclient import TestClient
from playwright.sync_api import Browser, Page, expect

from layers.trail.settings import Settings
from layers.trail.store import Trail
from server.app import create_app
from server.command import CALLER_AT_FAULT, main
from server.season.api import Season
from server.settings import ServerSettings
from tests.nesting.season.numbers import leaves, missing_from
from tests.nesting.season.reports import Visit, empty, fledged, lost, not_known
from tests.server.conftest import ON
from tests.server.serving import Served

HOST = "http://127.0.0.1"
WIDE, PHONE = {"width": 1280, "height": 800}, {"width": 390, "height": 844}

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


def run(capsys: pytest.CaptureFixture[str], *words: object) -> str:
    assert main(["season", *(str(word) for word in words)]) == 0
    return capsys.readouterr().out


def plain(text: str) -> str:
    """The words of a page."""
    bare = re.sub(r"<(style|head).*?</\1>", " ", text, flags=re.DOTALL)
    words = html.unescape(re.sub(r"<[^>]+>", " ", bare)).replace("\u00a0", " ")
    return re.sub(r"\s+", " ", words)


def sentences(page: str) -> list[str]:
    """The report's sentences as the page has them."""
    text = page.partition('<article class="season">')[2].partition('<section class="part"')[0]
    return [
        html.unescape(found).replace("\u00a0", " ")
        for found in re.findall(r"<(?:p|li)>(.*?)</(?:p|li)>", text)
    ]


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


def test_the_years_alone_are_those_of_the_report(
    client: TestClient, built: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    asked = ("--year", 2026, "--on", ON, "--years")
    whole = client.get("/api/season?year=2026").json()
    years = json.loads(run(capsys, built, *asked, "--json"))
    assert years == whole["years"]
    assert years["risk"]["n"] == len(years["each"]) > 2
    assert years["all_differ"]["p_value"] > 0
    assert {one["species"] for one in years["own_periods"]} >= {"eastern bluebird"}
    printed = re.sub(r"\s+", " ", run(capsys, built, *asked))
    for one in whole["sentences"]:
        assert (one["text"] in printed) == (one["passage"] == "years")


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


# The command


def test_the_command_answers_first_how_the_boxes_did(
    capsys: pytest.CaptureFixture[str], built: Path
) -> None:
    lines = run(capsys, built, "--year", 2026).splitlines()
    assert lines[0] == "Alderbeck Reserve, season 2026"
    assert lines[2] == "How did the boxes do?"
    assert lines[3].strip().startswith("In 2026, 47 of 57 boxes")
    # Sentences; the columns of a table stand two spaces apart.
    assert max(len(line) for line in lines if not re.search(r"\S  +\S", line)) <= 96


def test_without_a_year_it_is_the_last_season_with_visits(
    capsys: pytest.CaptureFixture[str], built: Path
) -> None:
    assert "season 2026" in run(capsys, built, "--on", "2030-01-01")
    assert "season 2025" in run(capsys, built, "--on", "2025-07-01")
    assert "season 2023" in run(capsys, built, "--on", "2020-07-01")


def test_the_report_file_is_complete_with_its_tables_and_plots_beside_it(
    capsys: pytest.CaptureFixture[str], built: Path, tmp_path: Path
) -> None:
    page = tmp_path / "report.html"
    told = run(capsys, built, "--year", 2026, "-o", page)
    folder = tmp_path / "report-tables-and-plots"
    kinds = [path.suffix for path in folder.iterdir()]
    assert (kinds.count(".svg"), kinds.count(".csv")) == (6, len(kinds) - 6)
    assert f"{kinds.count('.csv')} tables (CSV) and 6 plots (SVG)" in told
    assert "give it only to people who may know them" in told
    text = page.read_text()
    linked = re.findall(r'(?:src|href)="([^"]+)"', text)
    assert all(
        at.startswith(("data:image/svg+xml;base64,", "#", "report-tables-and-plots/"))
        for at in linked
    )
    assert "<script" not in text
    assert "@import" not in text
    assert all((tmp_path / at).exists() for at in linked if at.startswith("report-tables"))


def test_the_file_shows_what_the_page_shows(
    capsys: pytest.CaptureFixture[str], built: Path, tmp_path: Path, client: TestClient
) -> None:
    run(capsys, built, "--year", 2025, "--on", ON, "-o", tmp_path / "report.html")
    file = sentences((tmp_path / "report.html").read_text())
    assert file == sentences(client.get("/season?year=2025").text)


def test_the_public_reads_of_no_box_and_only_of_seasons_that_are_over(
    capsys: pytest.CaptureFixture[str], built: Path
) -> None:
    told = run(capsys, built, "--public", "--year", 2025, "--on", ON)
    assert "boxes of Alderbeck Reserve that were checked" in told
    assert not re.search(r"\b[MNOP]\d\d\b|Mill Wood", told)
    running = run(capsys, built, "--public", "--on", ON)
    assert running == "Numbers of 2026 are published some weeks after that season is over.\n"
    plain_values = json.loads(run(capsys, built, "--public", "--year", 2025, "--on", ON, "--json"))
    assert [sheet["name"] for sheet in plain_values["tables"]] == ["species", "months", "seasons"]


def test_the_public_report_takes_no_species_or_grouping(
    capsys: pytest.CaptureFixture[str], built: Path
) -> None:
    for more in (("--species", "house wren"), ("--by", "guard")):
        assert main(["season", str(built), "--public", *more]) == CALLER_AT_FAULT
        assert "--public with --year, --on, --json and -o alone" in capsys.readouterr().err


def test_the_page_for_the_land_owner_holds_what_the_public_reads_and_nothing_else(
    capsys: pytest.CaptureFixture[str], built: Path, tmp_path: Path
) -> None:
    page = tmp_path / "owner.html"
    asked = ("--public", "--year", 2025, "--on", ON)
    printed = run(capsys, built, *asked, "-o", page)
    assert f"Wrote {page}" in printed
    text = html.unescape(page.read_text("utf-8")).replace("\u00a0", " ")
    summary = json.loads(run(capsys, built, *asked, "--json"))
    assert all(one["text"] in text for one in summary["sentences"])
    assert not re.search(r"\b[MNOP]\d\d\b|Mill Wood|src=|href=|<script", text)
    assert main(["season", str(built), *map(str, asked), "-o", str(page)]) == CALLER_AT_FAULT
    assert "exists" in capsys.readouterr().err


@pytest.mark.parametrize("there", ["report.html", "report-tables-and-plots"])
def test_nothing_that_exists_is_written_over(
    capsys: pytest.CaptureFixture[str], built: Path, tmp_path: Path, there: str
) -> None:
    (tmp_path / there).write_text("mine")
    asked = ["season", str(built), "-o", str(tmp_path / "report.html")]
    assert main(asked) == CALLER_AT_FAULT
    assert f"Expected a new name, got {tmp_path / there}, which exists" in capsys.readouterr().err
    assert [path.name for path in tmp_path.iterdir()] == [there]
    assert (tmp_path / there).read_text() == "mine"


def test_a_year_that_is_none_is_refused(capsys: pytest.CaptureFixture[str], built: Path) -> None:
    with pytest.raises(SystemExit, match="2"):
        main(["season", str(built), "--year", "twenty"])
    assert "Expected a year like 2026, got 'twenty'" in capsys.readouterr().err


# In the browser


@pytest.fixture
def served(demo_server: Served) -> str:
    return demo_server.address


def opened(browser: Browser, address: str, **look: Any) -> Page:
    page = browser.new_page(**look)
    problems: list[str] = []
    page.on("console", lambda message: problems.append(message.text))
    # Some ten plots are drawn meanwhile, by the process that runs the test.
    page.goto(address, timeout=120_000)
    assert problems == []
    return page


def test_the_page_is_accessible_and_its_form_works_by_keyboard(
    browser: Browser, served: str
) -> None:
    page = opened(browser, f"{served}/season?year=2025", viewport=WIDE)
    assert Axe().run(page).violations_count == 0
    page.get_by_label("Grouped by").focus()
    page.keyboard.press("ArrowDown")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    expect(page.get_by_label("Grouped by")).to_have_value("guard")
    expect(page.get_by_label("Season", exact=True)).to_have_value("2025")
    expect(
        page.get_by_role("img", name=re.compile("Daily survival of nests by guard"))
    ).to_be_visible()
    page.close()


def test_the_page_needs_no_script_and_fits_a_phone(browser: Browser, served: str) -> None:
    page = opened(browser, f"{served}/season", viewport=PHONE, java_script_enabled=False)
    expect(page.get_by_role("heading", name="How did the boxes do?")).to_be_visible()
    page.close()
    page = opened(browser, f"{served}/season", viewport=PHONE)
    assert page.evaluate("document.documentElement.scrollWidth") == PHONE["width"]
    assert Axe().run(page).violations_count == 0
    small = page.evaluate(
        """[...document.querySelectorAll('main a, main button, main select')]
            .filter(one => one.getBoundingClientRect().height < 44).length"""
    )
    assert small == 0
    page.close()


def test_a_long_table_is_folded_on_a_screen_and_whole_on_paper(
    browser: Browser, served: str
) -> None:
    page = opened(browser, f"{served}/season?year=2025", viewport=WIDE)
    folded = page.locator("details", has_text="Box by box")
    expect(folded.locator("table")).to_be_hidden()
    page.emulate_media(media="print")
    expect(folded.locator("table")).to_be_visible()
    page.emulate_media(media="screen")
    folded.locator("summary").press("Enter")
    expect(folded.locator("table")).to_be_visible()
    # The heads of a table stand above their columns, whatever class another page gives it.
    for table in page.locator(".sheet table").all():
        assert table.evaluate(
            "(one) => [...one.rows].every((row) => row.offsetWidth === one.rows[0].offsetWidth)"
        )
    page.close()


def test_every_plot_is_drawn_in_the_page(browser: Browser, served: str) -> None:
    page = opened(browser, f"{served}/season", viewport=WIDE)
    plots = page.locator(".plot img")
    for at in range(plots.count()):
        plots.nth(at).scroll_into_view_if_needed()
        expect(plots.nth(at)).to_have_js_property("complete", value=True)
        assert plots.nth(at).evaluate("image => image.naturalWidth") > 300
    assert plots.count() == 6
    page.close()


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_report_prints_with_its_answer_on_the_first_page(
    browser: Browser, served: str, paper: str
) -> None:
    page = opened(browser, f"{served}/season", viewport=WIDE)
    printed = pypdf.PdfReader(io.BytesIO(page.pdf(format=paper)))
    first = re.sub(r"\s+", " ", printed.pages[0].extract_text())
    assert "How did the boxes do?" in first
    assert "43 of 57 boxes" in first
    assert "Grouped by" not in first
    assert 8 <= len(printed.pages) <= 20
    assert "Which nests count" in " ".join(each.extract_text() for each in printed.pages)
    page.close()
