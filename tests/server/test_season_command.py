"""The season's report as command and as file."""

from __future__ import annotations

import html
import json
import re
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from server.command import CALLER_AT_FAULT, main
from tests.server.conftest import ON
from tests.server.season_texts import run, sentences


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
