"""What the first visitor would wait for, done as soon as the server is up.

The timeline comes first, since the map needs it, then dates and what is due, in one thread.
"""

from __future__ import annotations

import threading
from contextlib import suppress

from layers.errors import BoxroundError
from layers.trail.settings import season_of
from server.live.trail import LiveTrail


def start_warming(live: LiveTrail) -> threading.Thread:
    """Make the season's timeline, every nest's dates and today's due list in a thread.

    On a machine that has never run them they are compiled first, which takes some twenty
    seconds; the server answers meanwhile, and what a page needs first is compiled first.
    The thread ends with the process, so that a large trail does not hold up its end.
    """
    thread = threading.Thread(target=_warm, args=(live,), name="warming", daemon=True)
    thread.start()
    return thread


def _warm(live: LiveTrail) -> None:
    # What cannot be read is reported to the first request for it.
    with suppress(BoxroundError):
        contents, today = live.contents(), live.today()
        contents.timeline(season_of(today, contents.settings.season_starts), today)
        contents.due(today)
