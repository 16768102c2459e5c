"""The due list as records, the same for the command, the call and the page."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from datetime import date
from typing import Any

from layers.nesting.calendar import nest_calendar
from layers.nesting.cautions import sign_cautions
from layers.nesting.due import OPEN, Due
from server.live.clock import utc_now
from server.live.contents import Contents


def due_records(
    contents: Contents, listed: Sequence[Due], *, on: date, everything: bool = False
) -> list[dict[str, Any]]:
    """What each box needs on a day, in the order of `listed`.

    Parameters
    ----------
    listed
        Boxes of `contents.due(on)`.
    everything
        Also those that need no visit.

    Returns
    -------
    list of dict
        The attributes of `Due`, and the box's `name`, `section` (None = not recorded) and
        `cautions` (may be empty).
    """
    named = _named(contents)
    return [
        {
            "box": one.box,
            "name": named.get(one.box, _NOTHING)[0],
            "section": named.get(one.box, _NOTHING)[1],
            **asdict(one),
            # They are for who opens the box.
            "cautions": sign_cautions(contents.histories, one.box, on=on)
            if one.approach == OPEN
            else [],
        }
        for one in listed
        if one.due or everything
    ]


def sections(contents: Contents) -> dict[str, str | None]:
    """Box -> its section; None where none is recorded."""
    return {box: section for box, (_, section) in _named(contents).items()}


def calendar_file(contents: Contents, *, on: date, boxes: Sequence[str] | None = None) -> bytes:
    """The nest calendar of some boxes as an iCalendar file; None = of all."""
    return nest_calendar(
        contents.histories,
        contents.dates(),
        on=on,
        trail=contents.settings.name,
        made_at=utc_now(),
        version=contents.version,
        boxes=boxes if boxes is None else frozenset(boxes),
    )


_NOTHING = (None, None)


def _named(contents: Contents) -> dict[str, tuple[str | None, str | None]]:
    """Box -> its name and section."""
    boxes = contents.ground.boxes

    def made() -> dict[str, tuple[str | None, str | None]]:
        pairs = zip(boxes["name"], boxes["section"], strict=True)
        return dict(zip(boxes["box"], pairs, strict=True))

    return contents.once("names and sections of boxes", made)
