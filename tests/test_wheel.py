"""A wheel of the tree, installed in an environment of its own, runs from any folder."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
import sysconfig
import tarfile
import time
import urllib.request
import venv
import zipfile
from pathlib import Path

import pytest

from server.command import COMMANDS

pytestmark = [pytest.mark.slow, pytest.mark.server]
ROOT = Path(__file__).parent.parent
DAY = ("--on", "2026-06-03")
CALLS: dict[str, tuple[str, ...]] = {
    "new": ("new.gpkg", "--name", "Alderbeck", "--timezone", "America/New_York"),
    "add": ("boxes", "sources/boxes.csv", "new.gpkg"),
    "take-back": ("new.gpkg",),
    "remove": ("boxes", "new.gpkg", "M01"),
    "check": ("demo.gpkg",),
    "backup": ("demo.gpkg", "copy.gpkg"),
    "restore": ("copy.gpkg", "demo.gpkg"),
    "rescue": ("demo.gpkg", "rescued.gpkg"),
    "doctor": ("demo.gpkg",),
    "settings": ("demo.gpkg",),
    "guide": (),
    "nests": ("demo.gpkg", *DAY),
    "status": ("demo.gpkg", *DAY),
    "due": ("demo.gpkg", *DAY, "--calendar", "due.ics"),
    "near": ("demo.gpkg", "42.6", "-77.9"),
    "walk": ("demo.gpkg", *DAY, "--boxes", "M01", "M02", "--sheet", "sheet.html"),
    "length": ("demo.gpkg",),
    "map": ("demo.gpkg", "-o", "map.html", *DAY),
    "season": ("demo.gpkg", "--year", "2026", "-o", "season.html"),
    "site": ("demo.gpkg", "42.6", "-77.9", *DAY),
    "week": ("demo.gpkg", *DAY, "--free", "Ann: Wed 120"),
    "winter": ("demo.gpkg", *DAY),
    "export": ("demo.gpkg", "--full", "-o", "out.zip", *DAY),
    "publish": ("demo.gpkg", "-o", "pages", *DAY),
    "invite": ("demo.gpkg", "--name", "Wren", "--role", "keeper"),
    "people": ("demo.gpkg",),
    "revoke": ("demo.gpkg", "--name", "Wren"),
    "serve": ("--help",),
    "demo": ("--help",),
    "prepare": (),
    # Needs what `pip install boxround[pool]` adds.
    "pool": ("--help",),
    "setup": ("server", "demo.gpkg", "--domain", "trail.example.org"),
}


@pytest.fixture(scope="module")
def dist(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The sdist, and the wheel that is built from it."""
    made = tmp_path_factory.mktemp("dist")
    subprocess.run([sys.executable, "-m", "build", "-o", made, ROOT], check=True)
    return made


@pytest.fixture(scope="module")
def folder(dist: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder elsewhere, with an environment that holds the wheel, and the demo.

    In CI the dependencies are installed too; elsewhere those of this environment are lent.
    """
    made = tmp_path_factory.mktemp("elsewhere")
    venv.create(made / "env", with_pip=True)
    (wheel,) = dist.glob("*.whl")
    install: list[str | Path] = [
        made / "env/bin/python",
        "-m",
        "pip",
        "install",
        "-q",
        "--no-compile",
    ]
    install.append(wheel)
    if os.environ.get("CI"):
        install += ["-c", ROOT / ".ci/constraints.txt"]
        subprocess.run(install, check=True, env=surroundings())
    else:
        subprocess.run([*install, "--no-deps"], check=True, env=surroundings())
        (site,) = (made / "env/lib").glob("python*/site-packages")
        (site / "lent.pth").write_text(sysconfig.get_path("purelib") + "\n", encoding="utf-8")
    build = ["env/bin/python", "-m", "data_demo.build", "demo.gpkg", "--files", "sources"]
    subprocess.run(build, cwd=made, env=surroundings(), check=True)
    return made


def surroundings() -> dict[str, str]:
    return {name: value for name, value in os.environ.items() if name != "PYTHONPATH"}


def test_the_wheel_holds_every_file_of_the_packages(dist: Path) -> None:
    tracked = subprocess.run(
        ["git", "ls-files", "layers", "server", "data_demo"],
        cwd=ROOT, capture_output=True, text=True, check=True,
    ).stdout.split()  # fmt: skip
    wanted = {name for name in tracked if not name.startswith("data_demo/map.")}
    (wheel,), (sdist,) = dist.glob("*.whl"), dist.glob("*.tar.gz")
    with zipfile.ZipFile(wheel) as archive:
        assert wanted <= set(archive.namelist())
    with tarfile.open(sdist) as packed:
        held = {name.partition("/")[2] for name in packed.getnames()}
    assert wanted | {"README.md", "LICENSE", "pyproject.toml"} <= held


def test_every_command_is_run() -> None:
    assert set(CALLS) == set(COMMANDS)


ONE_BY_ONE = """
import json, sys
from server.command import main

for words in json.loads(sys.argv[1]):
    try:
        code = main(words)
    except SystemExit as end:
        code = end.code
    if code:
        sys.exit(f"{words} ended with {code}")
"""
"""One process runs them all: what a command loads is the same for most, and takes seconds."""


def test_every_command_runs_from_another_folder(folder: Path) -> None:
    calls = [[command, *words] for command, words in CALLS.items()]
    run(folder, "env/bin/python", "-c", ONE_BY_ONE, json.dumps(calls))
    assert "people" in run(folder, "env/bin/boxround", "--help")


def test_the_first_card_of_the_demo_comes_within_two_seconds_of_serving(folder: Path) -> None:
    run(folder, "env/bin/boxround", "prepare")
    words = ["env/bin/boxround", "demo", "first.gpkg", "--port", "0"]
    with subprocess.Popen(
        words, cwd=folder, env=surroundings(), stdout=subprocess.PIPE, text=True
    ) as process:
        assert process.stdout is not None
        while not (line := process.stdout.readline()).startswith("Serving"):
            assert line
        begun = time.monotonic()
        (address,) = re.findall(r"http://[\d.:]+", line)
        with urllib.request.urlopen(f"{address}/boxes/M05/card", timeout=60) as answer:
            assert b"M05" in answer.read()
        took_s = time.monotonic() - begun
        process.terminate()
    assert took_s < 2.0


def run(folder: Path, *words: str) -> str:
    """What a program of the folder's environment prints; it must succeed."""
    done = subprocess.run(
        words, cwd=folder, env=surroundings(), capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, (done.stdout, done.stderr)
    return done.stdout
