"""The due list as records, the same for the command, the call and the page."""

from __future__ import annotations

from collections.abc import Sequence
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
    named = contents.ground.names_and_sections
    return [
        {
            "box": one.box,
            "name": named.get(one.box, _NOTHING)[0],
            "section": named.get(one.box, _NOTHING)[1],
            **vars(one),
            # `asdict` copies every text, which takes ten times as long.
            "reasons": [dict(vars(reason)) for reason in one.reasons],
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
    named = contents.ground.names_and_sections
    return {box: section for box, (_, section) in named.items()}


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
