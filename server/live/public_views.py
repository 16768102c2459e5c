"""The public view of a served trail: the one thing that the public pages are given."""

from __future__ import annotations

import threading
from datetime import date

from layers.publishing import PublicView, public_view
from server.live.contents import Contents
from server.live.trail import LiveTrail


def public_view_of(contents: Contents, on: date) -> PublicView:
    """What the public may see of a trail's contents on a day."""
    ground = contents.ground
    return public_view(
        ground.boxes,
        contents.histories,
        paths=ground.paths,
        places=ground.places,
        zones=ground.zones,
        settings=contents.settings,
        on=on,
    )


class PublicViews:
    """Gives the public view of today; the same object as long as it tells the same.

    Most changes to a trail tell the public nothing, so what was made from the last view
    can be kept through them.
    """

    def __init__(self, live: LiveTrail) -> None:
        self._live = live
        self._making = threading.Lock()
        self._known: tuple[int, date] | None = None
        self._view: PublicView | None = None

    def __call__(self) -> PublicView:
        """The view of the trail as it was last committed.

        Raises
        ------
        EnvironmentFault
            The trail's file can no longer be read.
        """
        with self._making:
            contents = self._live.contents()
            known = contents.version, self._live.today()
            if self._view is None or known != self._known:
                fresh = public_view_of(contents, known[1])
                if fresh != self._view:
                    self._view = fresh
                self._known = known
            return self._view
