"""What the public's archive says of the time it covers."""

from __future__ import annotations

import datetime as dt
import re
import zipfile
from pathlib import Path

from layers.publishing.archives import write_public_archive
from layers.publishing.tables import PublicSource
from layers.trail.public_rules import PublicRules
from tests.publishing.planted import planted


def covered(path: Path, on: dt.date) -> list[str]:
    """Begin and end of the archive's time, as its EML has them."""
    view = planted().view(on, PublicRules(unmarked="shown"))
    write_public_archive(path, PublicSource(view), scientific=lambda _: None)
    with zipfile.ZipFile(path) as archive:
        return re.findall(r"<calendarDate>(.*?)</calendarDate>", archive.read("eml.xml").decode())


def test_the_time_covered_is_of_whole_months_in_days(tmp_path: Path) -> None:
    # EML 2.2.0 has years and days, and no months (type yearDate; from memory).
    first, last = map(dt.date.fromisoformat, covered(tmp_path / "a.zip", dt.date(2026, 7, 31)))
    assert first.day == 1
    assert (last + dt.timedelta(days=1)).day == 1
    assert first < last <= dt.date(2026, 6, 30)


def test_where_nothing_is_published_no_time_is_covered(tmp_path: Path) -> None:
    assert covered(tmp_path / "a.zip", dt.date(2025, 1, 2)) == []
