"""Words that stood for a dozen things stay out of code, screens and docs."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
CLEAN = (
    *("README.md", "DEVELOPERS.md", "CHANGELOG.md", "data_demo"),
    *sorted(
        f"{room}/{one.name}" for room in ("layers", "server") for one in (ROOT / room).iterdir()
    ),
)
"""Folders and files that keep to the words: all but the tests."""

KEEP_OUT = (
    r"told|tells?|telling|asked|nobody|somebody|who asks|looked into",
    r"pressing|other tenant|not noted|mind this|look from a distance|who looked",
    r"WorldError|TrailFull|HotAnswers|said_(80|95|best|event)|look_said",
)
ALLOWED: dict[str, tuple[str, str]] = {
    "CHANGELOG.md": (r"`(said\w*|told)`", "keys that had another name before"),
    "layers/nesting/due/approach.py": ("a look from a distance shows", "a look is a noun here"),
    "layers/trail/importing/text.py": (r"raw\.tell\(\)", "the position in a file, by its method"),
}
"""File -> what it may hold, and why."""


def texts(place: str) -> list[Path]:
    path = ROOT / place
    kinds = {".py", ".js", ".html", ".toml", ".md"}
    return [path] if path.is_file() else [one for one in path.rglob("*") if one.suffix in kinds]


@pytest.mark.parametrize("place", CLEAN)
def test_clean_rooms_keep_to_plain_words(place: str) -> None:
    pattern = re.compile(rf"\b({'|'.join(KEEP_OUT)})\b", re.IGNORECASE)
    found = []
    for path in texts(place):
        name = path.relative_to(ROOT).as_posix()
        allowed = ALLOWED.get(name, ("(?!)", ""))[0]
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), start=1):
            if pattern.search(re.sub(allowed, "", line)):
                found.append(f"{name}:{number}: {line.strip()[:90]}")
    assert found == []
