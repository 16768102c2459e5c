"""Days when paths and zones are closed, as people write them into a file."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from layers.errors import BadValue
from layers.trail.checking import check_trail
from layers.trail.recurring import is_among, recurring_days
from layers.trail.store import Trail
from tests.server.small_trail import LANE, make_trail


@pytest.mark.parametrize(
    ("day", "text", "closed"),
    [
        ("2026-03-01", "03-01/07-31", True),
        ("2031-07-31", "03-01/07-31", True),
        ("2026-08-01", "03-01/07-31", False),
        ("2026-02-28", "03-01/07-31", False),
        # Over New Year.
        ("2026-12-31", "10-01/02-29", True),
        ("2028-02-29", "10-01/02-29", True),
        ("2026-03-01", "10-01/02-29", False),
        ("2026-09-30", "10-01/02-29", False),
        # Once, and one day alone.
        ("2026-11-14", "2026-11-14", True),
        ("2027-11-14", "2026-11-14", False),
        ("2026-12-31", "2026-12-30/2027-01-02", True),
        ("2027-01-03", "2026-12-30/2027-01-02", False),
        ("2027-05-01", "05-01", True),
        ("2026-11-15", "03-01/07-31; 2026-11-14/2026-11-15", True),
    ],
)
def test_whether_a_day_is_among_them(day: str, text: str, closed: bool) -> None:
    assert is_among(date.fromisoformat(day), text) is closed


def test_text_is_brought_to_its_plain_form() -> None:
    plain = recurring_days("03-01 / 07-31 ;2026-11-14;2026-12-01/2026-12-01")
    assert plain == "03-01/07-31; 2026-11-14; 2026-12-01"


@pytest.mark.parametrize(
    "text",
    (
        *("", "spring", "02-30", "3-1/7-31", "2026-02-29", "03-01/2026-07-31", "03-01;"),
        *("14.11.2026", "2026-11-14/2026-11-01", "03-01/07-31/08-01"),
    ),
)
def test_other_text_is_refused(text: str) -> None:
    with pytest.raises(BadValue, match="Expected"):
        recurring_days(text)


def test_check_names_days_that_another_program_wrote_otherwise(tmp_path: Path) -> None:
    path = make_trail(
        tmp_path / "small.gpkg", boxes={}, paths=[LANE | {"closed_when": "in spring"}]
    )
    with Trail.open(path) as trail:
        (found,) = [one for one in check_trail(trail) if "closed_when" in one.what]
    assert found.where == "paths row 1"
    assert "'in spring'" in found.what
