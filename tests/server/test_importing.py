"""A keeper's own spreadsheet goes in: by recipe, by answering, and on the page."""

from __future__ import annotations

import re
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import suppress
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import httpx
import pytest
from fastapi.testclient import TestClient

from layers.errors import BadValue
from layers.nesting.guide import standard_guide
from layers.trail.importing.proposing import Answers, Proposal
from layers.trail.importing.proposing.recipe import remembered
from layers.trail.importing.withdrawing import imports, withdraw_import
from layers.trail.store import Trail
from server.app import create_app
from server.command import main
from server.importing.asking import ask_all
from server.importing.understanding import understand
from server.settings import ServerSettings
from tests.server.conftest import Process
from tests.server.small_trail import at, make_trail

CREEK = (
    "Mill Creek boxes 2026,,,,,\n,,,,,\nBox #,Checked,Bird,Contents,Temp F,Remarks\n"
    "BOX1,4/5/26,bluebird,5 eggs warm,61,\nBOX2,5/4/26,Tree Swalow,2E 3Y,58,ants\n"
    "BOX3,5/11/26,bluebird,~4 babies,64,\nTotal,,,,,\n"
)
LATER = CREEK.replace("4/5/26", "6/7/26").replace("5/4/26", "6/8/26").replace("5/11", "6/9")
ANSWERS = {
    "dates": {"order in Checked": "month-first"},
    "species": {"bluebird": "eastern bluebird"},
    "cells": {"about": "number"},
}
TODAY = date(2026, 7, 1)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return make_trail(tmp_path / "small.gpkg", boxes={str(n): at(n) for n in (1, 2, 3)})


@pytest.fixture
def creek(tmp_path: Path) -> Path:
    file = tmp_path / "creek.csv"
    file.write_text(CREEK, encoding="utf-8")
    return file


@pytest.fixture
def client(path: Path) -> Iterator[TestClient]:
    app = create_app(ServerSettings(trail=path, on=TODAY))
    with TestClient(app, base_url="http://127.0.0.1") as opened:
        yield opened


def stored(path: Path) -> list[dict[str, Any]]:
    with Trail.open(path) as trail:
        return trail.visit_rows()


def answered(recipe: Path) -> None:
    """Put the answers into a recipe, as a person would with an editor."""
    text = recipe.read_text(encoding="utf-8")
    for entries in ANSWERS.values():
        for item, value in entries.items():
            assert f'"{item}" = "?"' in text
            text = text.replace(f'"{item}" = "?"', f'"{item}" = "{value}"')
    recipe.write_text(text, encoding="utf-8")


def test_a_recipe_is_proposed_edited_and_used_and_the_next_file_asks_nothing(
    path: Path, creek: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    recipe = tmp_path / "creek.toml"
    assert main(["add", "visits", str(creek), str(path)]) == 2
    assert "run the same with --propose" in capsys.readouterr().err
    assert main(["add", "visits", str(creek), str(path), "--propose", str(recipe)]) == 0
    assert "3 visits found, 3 questions open" in capsys.readouterr().out
    assert main(["add", "visits", str(creek), str(path), "--recipe", str(recipe)]) == 2
    refusal = capsys.readouterr().err
    assert "an answer to: Which species is 'bluebird'?, got none yet in creek.csv row 4" in refusal
    assert stored(path) == []
    answered(recipe)
    assert main(["add", "visits", str(creek), str(path), "--recipe", str(recipe)]) == 0
    visits = stored(path)
    assert [(v["box"], v["seen_on"], v["species"], v["eggs"], v["young"]) for v in visits] == [
        ("1", "2026-04-05", "eastern bluebird", 5, None),
        ("2", "2026-05-04", "tree swallow", 2, 3),
        ("3", "2026-05-11", "eastern bluebird", None, 4),
    ]
    assert visits[0]["own_columns"] == '{"Temp F": "61"}'
    again = tmp_path / "june.csv"
    again.write_text(LATER, encoding="utf-8")
    assert main(["add", "visits", str(again), str(path)]) == 0
    assert [v["seen_on"] for v in stored(path)][3:] == ["2026-06-07", "2026-06-08", "2026-06-09"]


def test_a_file_that_changed_since_its_recipe_is_refused(
    path: Path, creek: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    recipe = tmp_path / "creek.toml"
    assert main(["add", "visits", str(creek), str(path), "--propose", str(recipe)]) == 0
    answered(recipe)
    creek.write_text(CREEK.replace("5 eggs", "6 eggs"), encoding="utf-8")
    assert main(["add", "visits", str(creek), str(path), "--recipe", str(recipe)]) == 2
    assert "creek.csv as it was when creek.toml was made" in capsys.readouterr().err
    assert stored(path) == []


def test_the_readme_shows_what_the_commands_print(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    readme = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    part = readme.partition("## Your own spreadsheet")[2].partition("\n## ")[0]
    table, proposed, asked, added = re.findall(r"```\n(.*?)```", part, re.DOTALL)
    make_trail(tmp_path / "creek.gpkg", boxes={str(n): at(n) for n in (1, 2, 3)})
    monkeypatch.chdir(tmp_path)
    Path("creek.csv").write_text(table, encoding="utf-8")
    assert table == CREEK
    shown = []
    for block in (proposed, added):
        command, _, printed = block.removeprefix("$ boxround ").partition("\n")
        assert main(command.split()) == 0
        shown.append((capsys.readouterr().out, printed))
        if block is proposed:
            recipe = Path("creek.toml").read_text(encoding="utf-8")
            assert all(lines in recipe for lines in asked.strip().split("\n\n"))
            answered(Path("creek.toml"))
    assert shown[0][0] == shown[0][1]
    for line in shown[1][1].removeprefix("...\n").replace("0eb26f69-…", "").splitlines():
        assert line in shown[1][0]


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("[columns]\nBird = 'brid'\n", "a column such as"),
        ("[birds]\nx = 'y'\n", "sections columns, dates"),
        ("[columns\n", "a recipe in TOML"),
    ],
)
def test_a_recipe_that_means_nothing_is_refused(
    path: Path, creek: Path, text: str, message: str, capsys: pytest.CaptureFixture[str]
) -> None:
    recipe = creek.with_name("r.toml")
    recipe.write_text(text, encoding="utf-8")
    assert main(["add", "visits", str(creek), str(path), "--recipe", str(recipe)]) == 2
    assert message in capsys.readouterr().err


def test_the_clear_rows_go_in_alone_and_the_others_are_written_in_their_layout(
    path: Path, creek: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    creek.write_text(CREEK.replace("5/4/26", "5/14/26").replace("~4", "4"), encoding="utf-8")
    assert main(["add", "visits", str(creek), str(path), "--rows-that-are-clear"]) == 0
    assert [v["box"] for v in stored(path)] == ["2"]
    left = creek.with_name("creek-left.csv").read_text(encoding="utf-8").splitlines()
    assert left[2] == "Box #,Checked,Bird,Contents,Temp F,Remarks"
    assert [row[:4] for row in left[3:]] == ["BOX1", "BOX3"]
    assert "2 visits wait" in capsys.readouterr().out


def test_a_terminal_asks_one_question_after_the_other(path: Path, creek: Path) -> None:
    shown: list[str] = []
    given = iter(["9", "2", "eastern bluebird", "-"])
    with Trail.open(path) as trail:

        def again(answers: Answers) -> Proposal:
            return understand(creek, trail, standard_guide(), today=TODAY, answers=answers)

        proposal, answers = ask_all(again({}), again, read=lambda _: next(given), show=shown.append)
        assert answers == {k: v for k, v in ANSWERS.items() if k != "cells"}
        assert [one.key for one in proposal.questions] == ["cells: about"]

        def ended(_: str) -> str:
            raise EOFError

        with pytest.raises(BadValue, match="the end of the input"):
            ask_all(again({}), again, read=ended, show=shown.append)
    assert any("Do the days in 'Checked' begin with" in line for line in shown)


def test_a_file_goes_from_the_page_to_the_trail_and_back(
    client: TestClient, path: Path, creek: Path
) -> None:
    sent = client.post("/import", files={"file": ("creek.csv", creek.read_bytes(), "text/csv")})
    page, draft = sent.text, str(sent.url)
    assert "3 questions" in page and "Which species is &#39;bluebird&#39;?" in page
    assert stored(path) == []
    refused = client.post(f"{draft}/add")
    assert refused.status_code == 422 and "an answer to: Which species" in refused.text
    fields = {f"answer:{s}:{item}": v for s, held in ANSWERS.items() for item, v in held.items()}
    page = client.post(f"{draft}/answers", data=fields).text
    assert "3 visits to 3 boxes can be added" in page
    assert "They make 3 new nests" in page and page.count('class="box"') == 3
    # Another process, as after a restart, finds the draft as it was.
    app = create_app(ServerSettings(trail=path, on=TODAY))
    with TestClient(app, base_url="http://127.0.0.1") as other:
        assert "3 visits to 3 boxes can be added" in other.get(draft).text
    page = client.post(f"{draft}/add").text
    assert "The visits are in the trail" in page
    assert len(stored(path)) == 3
    assert client.get(draft).status_code == 404
    assert "Temp F" in client.get("/boxes/1").text
    found = re.search(r'action="(/imports/[^"]+/withdraw)"', page)
    assert found is not None
    assert "3 visits withdrawn" in client.post(found[1]).text
    assert "0 visits withdrawn" in client.post(found[1]).text
    assert stored(path) == []
    with Trail.open(path) as trail:
        assert remembered(trail)["species"] == {"bluebird": "eastern bluebird"}
    # Taken back by mistake: the same file goes in again, and asks nothing.
    sent = client.post("/import", files={"file": ("creek.csv", creek.read_bytes(), "text/csv")})
    assert "3 visits to 3 boxes can be added" in sent.text
    client.post(f"{sent.url}/add")
    assert len(stored(path)) == 3


def test_what_is_read_otherwise_than_the_page_showed_is_not_added(
    client: TestClient, path: Path, creek: Path
) -> None:
    sent = client.post("/import", files={"file": ("creek.csv", creek.read_bytes(), "text/csv")})
    draft = str(sent.url)
    fields = {f"answer:{s}:{item}": v for s, held in ANSWERS.items() for item, v in held.items()}
    page = client.post(f"{draft}/answers", data=fields).text
    shown = {"reading": page.partition('name="reading" value="')[2].partition('"')[0]}
    # In another tab an answer changes, and in a third the box that a row names gets another id.
    other = {"answer:species:bluebird": "western bluebird"}
    client.post(f"{draft}/answers", data=other)
    refused = client.post(f"{draft}/add", data=shown)
    assert refused.status_code == 409 and "is read otherwise now" in refused.text
    assert "western bluebird" in refused.text and stored(path) == []
    client.post(f"{draft}/answers", data={"answer:species:bluebird": "eastern bluebird"})
    assert "The visits are in the trail" in client.post(f"{draft}/add", data=shown).text
    assert len(stored(path)) == 3


@pytest.mark.long
@pytest.mark.timeout(900)
def test_a_server_killed_while_it_adds_leaves_all_of_a_file_or_nothing(
    path: Path, start: Callable[..., Process]
) -> None:
    days = [TODAY - timedelta(days=n) for n in range(300)]
    rows = [f"{box},{day},{day.day % 6}" for day in days for box in (1, 2, 3)]
    content = "\n".join(["box,date,eggs", *rows])
    whole_s, left = 0.0, set[int]()
    for part in (1.0, 0.2, 0.5, 0.7, 0.9):
        server = start(path, "--on", str(TODAY))
        with httpx.Client(base_url=server.address, follow_redirects=True, timeout=120) as client:
            draft = client.post("/import", files={"file": ("v.csv", content)}).url.path
            if not whole_s:
                begun = time.monotonic()
                client.post(f"{draft}/add")
                whole_s = time.monotonic() - begun
                server.kill()
                assert len(stored(path)) == len(rows)
            else:
                power = threading.Timer(part * whole_s, server.kill)
                power.start()
                with suppress(httpx.TransportError):
                    client.post(f"{draft}/add")
                power.join()
        left.add(len(stored(path)))
        assert main(["check", str(path)]) in (0, 1)
        with Trail.open(path) as trail:
            for one in imports(trail):
                withdraw_import(trail, one.id)
    assert left <= {0, len(rows)}


@pytest.mark.parametrize(
    ("name", "content", "message"),
    [
        ("notes.pdf", b"%PDF", "a file of visits: .csv"),
        ("empty.csv", b"", "which is empty"),
        ("../../x.xlsx", b"PK nonsense", "a damaged or foreign file"),
        ("words.csv", b"to be or not\n", "0 visits to 0 boxes"),
    ],
)
def test_what_is_no_table_is_refused_in_a_sentence(
    client: TestClient, path: Path, name: str, content: bytes, message: str
) -> None:
    answer = client.post("/import", files={"file": (name, content, "text/plain")})
    assert answer.status_code in (200, 422)
    assert message in answer.text
    assert stored(path) == []
    assert not list(path.parent.glob("*x.xlsx"))


def test_an_import_by_command_is_listed_and_taken_back(
    path: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "v.csv"
    file.write_text("box,date,eggs\n1,2026-05-14,5\n2,2026-05-14,4\n", encoding="utf-8")
    assert main(["add", "visits", str(file), str(path)]) == 0
    assert "To take this back" in capsys.readouterr().out
    with Trail.open(path) as trail:
        (one,) = imports(trail)
        assert (one.added, one.current) == (2, 2)
    assert main(["take-back", str(path)]) == 0
    assert one.id in capsys.readouterr().out
    assert main(["take-back", str(path), one.id]) == 0
    assert stored(path) == []
    with Trail.open(path) as trail:
        assert withdraw_import(trail, one.id) == 0
        assert len(trail.visit_rows(current=False)) == 4
    assert main(["take-back", str(path), "no-such"]) == 2
