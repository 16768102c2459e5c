"""The public view of a folder's trails as one: of those whose rules say `in-region=yes`.

Each trail's release of the month is read from its file, where it is stored; a trail is looked at
again only after its file changed or the day turned.
"""

from __future__ import annotations

import logging
import sqlite3
import threading
import time
from pathlib import Path

from layers.errors import BoxroundError
from layers.publishing import PublicView
from layers.publishing.region import region_view
from layers.trail.store import Trail
from server.live.clock import Clock, utc_now
from server.live.contents import Contents
from server.live.folder import ENDING, file_state, trails_in
from server.live.public_views import released_view, stored_view

AGAIN_S = 60.0
"""Seconds after which files are looked at again; a release holds for a month."""

_log = logging.getLogger("boxround.server")


class RegionViews:
    """Gives the view of the region; the same object while nothing of it changed."""

    def __init__(self, folder: Path, *, clock: Clock) -> None:
        self._folder = folder
        self._clock = clock
        self._looking = threading.Lock()
        self._look_s = 0.0
        self._dropped_s = 0.0
        self._known: dict[str, tuple[object, PublicView | None]] = {}
        self._view: PublicView | None = None
        self._made_of: list[PublicView] = []

    def __call__(self) -> PublicView:
        """The view, from files as they were at most a minute ago."""
        with self._looking:
            if self._view is None or time.monotonic() >= self._look_s:
                self._look()
                self._look_s = time.monotonic() + AGAIN_S
            assert self._view is not None
            return self._view

    def stale(self) -> bool:
        """Whether answers made before may be out of date; true once a minute."""
        is_due = time.monotonic() >= self._dropped_s
        if is_due:
            self._dropped_s = time.monotonic() + AGAIN_S
        return is_due

    def _look(self) -> None:
        day = self._clock.fixed or utc_now().date()
        known: dict[str, tuple[object, PublicView | None]] = {}
        for name in trails_in(self._folder)[0]:
            path = self._folder / f"{name}{ENDING}"
            state = day, file_state(path)
            before = self._known.get(name)
            if before is not None and before[0] == state:
                known[name] = before
                continue
            try:
                # Its state after the look, which may have stored a release in it.
                view = self._released(path)
                known[name] = (day, file_state(path)), view
            except (BoxroundError, sqlite3.Error) as error:
                # Its own page says what is wrong; here it is left out until it can be read.
                _log.warning("%s is not in the region's pages: %s", name, error)
                known[name] = state, None
        views = [view for _, view in known.values() if view is not None]
        if self._view is None or [id(one) for one in views] != [id(one) for one in self._made_of]:
            self._view, self._made_of = region_view(views, on=day), views
        self._known = known

    def _released(self, path: Path) -> PublicView | None:
        with Trail.open(path) as trail:
            settings = trail.settings()
            if not settings.public_rules.is_in_region:
                return None
            on = self._clock.today(settings.zone)
            stored = stored_view(trail, settings, on)
            return stored or released_view(trail, Contents.read(trail).caught_up(trail), on)
