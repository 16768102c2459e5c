"""The keeper's rules of what the public may see, on the command line."""

from __future__ import annotations

from pathlib import Path

import pytest

from layers.trail.store import Trail
from server.command import main


def test_rules_are_changed_and_shown(trail_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    asked = ["--public", "cell=0.1", "--public", "withheld-species=House Wren; Sialia sialis"]
    assert main(["settings", str(trail_path), *asked]) == 0
    told = capsys.readouterr().out
    assert "public cell              0.1\n" in told
    assert "public withheld species  House Wren; Sialia sialis\n" in told
    with Trail.open(trail_path) as trail:
        assert trail.settings().public_rules.cell == 0.1


def test_one_box_is_shown_otherwise(trail_path: Path) -> None:
    with Trail.open(trail_path) as trail:
        first = trail.box_ids()[0]
    assert main(["settings", str(trail_path), "--public-box", f"{first}=hidden"]) == 0
    with Trail.open(trail_path) as trail:
        assert trail.boxes().set_index("box").loc[first, "public"] == "hidden"


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["--public", "cell"], "NAME=VALUE, got 'cell'"),
        (["--public", "cell=2"], "one of 0.001, 0.01, 0.1, 1 degrees, got 2"),
        (["--public", "withheld-species=hose wren"], "nearest: house wren"),
        (["--public-box", "nowhere=hidden"], "the id of a box, got 'nowhere'"),
        (["--public-box", "=hidden"], "NAME=VALUE"),
    ],
)
def test_what_cannot_be_set_is_named_and_nothing_is_changed(
    trail_path: Path, words: list[str], message: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with Trail.open(trail_path) as trail:
        before = trail.version()
    assert main(["settings", str(trail_path), *words]) == 2
    assert message in capsys.readouterr().err
    with Trail.open(trail_path) as trail:
        assert trail.version() == before
