"""The pages of help: each is there, leads on, and has only commands that run."""

from __future__ import annotations

import argparse
import html
import importlib
import re
import shlex
import shutil
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from fastapi.testclient import TestClient
from playwright.sync_api import Browser

from data_demo.demo import make_demo
from data_demo.plain_files import write_plain_files
from server.command import COMMANDS, main
from server.guide.page import TOPICS
from tests.server.serving import Served

STAYS = {"serve", "demo"}
"""Commands that go on until they are stopped: their words are read, and they are not run."""

BEFORE = {
    "take-back": ["add visits visits.csv trail.gpkg"],
    "revoke": ["invite trail.gpkg --name Wren --role walker"],
}
CODES = {"setup": {0, 1}, "check": {0, 1}, "doctor": {0, 1}, "invite": {0, 2}}
"""Other exit codes than 0 that are answers: something is missing, or a name is known already."""


def commands_of(page: str) -> list[str]:
    blocks = re.findall(r'<pre class="command">(.*?)</pre>', page, re.DOTALL)
    return [line for block in blocks for line in html.unescape(block).splitlines()]


def test_the_first_page_leads_to_every_other(client: TestClient) -> None:
    first = client.get("/help").text
    for name, title in TOPICS.items():
        assert f'<a href="/help/{name}">{title}</a>' in first
        page = client.get(f"/help/{name}")
        assert page.status_code == 200
        assert f"<h1>{title}</h1>" in page.text
        for address in set(re.findall(r'href="(/[^"#]*)"', page.text)):
            assert client.get(address).status_code == 200, (name, address)
    assert client.get("/help/none").status_code == 404


@pytest.fixture
def folder(tmp_path: Path, built: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder as somebody has it who follows a page: a trail, tables, a track, a backup."""
    shutil.copy(built, tmp_path / "trail.gpkg")
    shutil.copy(built, tmp_path / "old.gpkg")
    boxes, visits, paths = write_plain_files(make_demo(), tmp_path / "files", year=2026)
    boxes.rename(tmp_path / "boxes.csv")
    paths.rename(tmp_path / "paths.gpx")
    table = visits.read_text(encoding="utf-8-sig").splitlines(keepends=True)[:40]
    for name in ("visits.csv", "waiting.csv"):
        (tmp_path / name).write_text("".join(table), encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.mark.parametrize("name", TOPICS)
def test_every_command_of_a_page_runs(
    client: TestClient, folder: Path, name: str, capsys: pytest.CaptureFixture[str]
) -> None:
    commands = commands_of(client.get(f"/help/{name}").text)
    assert commands
    if any(" new " in command for command in commands):
        (folder / "trail.gpkg").unlink()
    if name == "sharing":
        commands = [command.replace("A1=", "M05=") for command in commands]
    for command in commands:
        program, *words = shlex.split(command)
        assert program == "boxround"
        if words[0] in STAYS:
            parser = argparse.ArgumentParser()
            importlib.import_module(COMMANDS[words[0]][0]).ARGUMENTS[words[0]](parser)
            parser.parse_args(words[1:])
            continue
        for before in BEFORE.get(words[0], []):
            main(shlex.split(before))
        code = main(words)
        printed = capsys.readouterr()
        assert code in CODES.get(words[0], {0}), (command, printed.out, printed.err)


@pytest.mark.parametrize("width", [390, 1280])
def test_the_pages_fit_and_are_accessible(
    browser: Browser, demo_server: Served, width: int
) -> None:
    page = browser.new_page(viewport={"width": width, "height": 844})
    for name in ("", *(f"/{topic}" for topic in TOPICS)):
        page.goto(f"{demo_server.address}/help{name}")
        assert page.evaluate("document.documentElement.scrollWidth") == width
        assert Axe().run(page).violations_count == 0, name
    page.close()
