"""The commands invite, people and revoke, and what serve says without a keeper."""

from __future__ import annotations

import json
import re
import stat
from datetime import UTC, datetime
from pathlib import Path

import pytest

from server.command import main
from server.web.authentication.side_file import people_path
from server.web.authentication.store import People
from server.web.authentication.tokens import digest


def said(capsys: pytest.CaptureFixture[str], *words: str, code: int = 0) -> str:
    assert main(words) == code
    told = capsys.readouterr()
    return told.out + told.err


def test_invite_prints_a_link_that_opens_and_a_code_to_scan(
    trail_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ("--name", "Wren", "--role", "keeper", "--public-url", "https://trail.example.org/")
    told = said(capsys, "invite", str(trail_path), *words)
    link = re.search(r"https://trail\.example\.org/sign-in#([\w-]{43})\n", told)
    assert link is not None
    assert "█" in told
    assert "once" in told
    with People.open(trail_path) as people:
        key, _ = people.exchange(link[1], device="d", label="x", now=datetime.now(UTC))
    assert (key.person.name, key.person.role) == ("Wren", "keeper")
    assert stat.S_IMODE(people_path(trail_path).stat().st_mode) == 0o600


def test_a_link_that_opens_on_this_machine_only_is_described_as_such(
    trail_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    told = said(capsys, "invite", str(trail_path), "--name", "Wren", "--role", "keeper")
    assert "It opens on this machine only; --public-url" in told


@pytest.mark.parametrize(
    ("kind", "shape"),
    [("program", r"\n  ([\w-]{43})\n"), ("calendar", r"/due\.ics\?token=([\w-]{43})\n")],
)
def test_a_key_is_printed_in_place_of_a_link(
    trail_path: Path, capsys: pytest.CaptureFixture[str], kind: str, shape: str
) -> None:
    words = ("--name", "Robin", "--role", "walker", "--key", kind)
    told = said(capsys, "invite", str(trail_path), *words)
    found = re.search(shape, told)
    assert found is not None
    assert "sign-in" not in told
    with People.open(trail_path) as people:
        key = people.key(digest(found[1]))
    assert key is not None
    assert (key.kind, key.person.name) == (kind, "Robin")


def test_people_lists_everybody_in_words_and_for_programs(
    trail_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert "boxround invite makes a link" in said(capsys, "people", str(trail_path))
    for name, role in (("Wren", "keeper"), ("Robin", "walker")):
        said(capsys, "invite", str(trail_path), "--name", name, "--role", role, "--days", "20")
    said(capsys, "revoke", str(trail_path), "--name", "robin")
    told = said(capsys, "people", str(trail_path))
    assert re.search(r"Wren +keeper +invited", told)
    assert re.search(r"Robin +walker +revoked", told)
    listed = json.loads(said(capsys, "people", str(trail_path), "--json"))
    assert [one["name"] for one in listed] == ["Wren", "Robin"]
    assert listed[0]["devices"] == 0
    assert "token" not in json.dumps(listed)


def test_revoke_says_when_no_keeper_is_left(
    trail_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    said(capsys, "invite", str(trail_path), "--name", "Wren", "--role", "keeper")
    told = said(capsys, "revoke", str(trail_path), "--name", "Wren")
    assert "has no access any more" in told
    assert "No keeper is left" in told
    told = said(capsys, "revoke", str(trail_path), "--name", "Wren", code=2)
    assert "the name of a person with access" in told


@pytest.mark.parametrize("url", ["trail.example.org", "ftp://trail", "https://trail/map"])
def test_an_address_that_is_none_makes_no_link(
    trail_path: Path, capsys: pytest.CaptureFixture[str], url: str
) -> None:
    words = ["invite", str(trail_path), "--name", "W", "--role", "keeper", "--public-url", url]
    with pytest.raises(SystemExit, match="2"):
        main(words)
    assert "an address like https://trail.example.org" in capsys.readouterr().err
    assert not people_path(trail_path).exists()


def test_no_one_is_invited_to_what_is_no_trail(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    wrong = tmp_path / "letter.txt"
    wrong.write_text("Dear all")
    told = said(capsys, "invite", str(wrong), "--name", "Wren", "--role", "keeper", code=3)
    assert "Expected a trail file" in told
    assert not people_path(wrong).exists()


@pytest.mark.parametrize(
    "words", [("--host", "0.0.0.0"), ("--public-url", "https://trail.example.org")]
)
def test_serve_refuses_without_a_keeper_where_others_can_reach_it(
    trail_path: Path, capsys: pytest.CaptureFixture[str], words: tuple[str, ...]
) -> None:
    told = said(capsys, "serve", str(trail_path), "--port", "0", *words, code=2)
    assert "run: boxround invite trail.gpkg --name YOUR-NAME --role keeper" in told
    assert "Serving" not in told


def test_a_link_to_the_trail_has_the_same_people(
    trail_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    other = trail_path.with_name("other-name.gpkg")
    other.symlink_to(trail_path)
    said(capsys, "invite", str(other), "--name", "Wren", "--role", "keeper")
    assert "Wren" in said(capsys, "people", str(trail_path))
