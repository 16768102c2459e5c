"""The card of one box, read so that file and histories agree."""

from __future__ import annotations

from datetime import date
from typing import Any

from layers.nesting.card import box_card
from server.live.contents import Contents
from server.live.trail import LiveTrail


def card_of(live: LiveTrail, box: str, *, on: date) -> tuple[Contents, dict[str, Any]]:
    """The trail's contents, and all there is to tell about one of its boxes.

    Raises
    ------
    NotKnown
        There is no box of that id.
    """
    contents, rows = live.consistent(lambda trail: trail.visit_rows(box))
    record = contents.ground.box(box)
    card = box_card(contents.histories, record, rows, settings=contents.settings, on=on)
    return contents, card
