"""The public view of a trail: the one thing that the public pages are given."""

from __future__ import annotations

import json
import threading
from collections.abc import Iterable
from dataclasses import replace
from datetime import date
from math import inf

from layers.errors import EnvironmentFault
from layers.publishing import PublicView, public_view
from layers.publishing.cautions import cautions
from layers.publishing.cells import GridCell
from layers.publishing.identifiers import Identifiers
from layers.publishing.nests import release_day
from layers.publishing.release import view_from_text, view_to_text
from layers.publishing.view import squares_of_boxes
from layers.trail.releases import Release, release_number, releases, store_release
from layers.trail.settings import Settings
from layers.trail.store import Trail
from server.live.contents import Contents
from server.live.trail import LiveTrail


def public_view_of(
    trail: Trail, contents: Contents, on: date, *, before: PublicView | None = None
) -> PublicView:
    """What the public would see of a trail's contents if they were released on a day."""
    ground = contents.ground
    return public_view(
        ground.boxes,
        contents.histories,
        paths=ground.paths,
        places=ground.places,
        zones=ground.zones,
        settings=contents.settings,
        on=on,
        identifiers=Identifiers(trail.identity(), trail.first_entries),
        before=before,
    )


def stored_view(trail: Trail, settings: Settings, on: date) -> PublicView | None:
    """What the public sees on a day, where the month's release is stored already."""
    known = _stored_release(releases(trail), settings, on)
    return None if known is None else view_from_text(known.view)


def _stored_release(stored: Iterable[Release], settings: Settings, on: date) -> Release | None:
    month, rules = release_day(on), _rules_text(settings)
    return next((one for one in stored if one.month == month and one.rules == rules), None)


def released_view(trail: Trail, contents: Contents, on: date, *, anew: bool = False) -> PublicView:
    """What the public sees on a day: what was stored when the month was first looked at.

    A change of the public rules or of the trail's name makes the month's release anew, and so
    does the keeper with `anew`. A file that cannot be written is released as it is.
    """
    month, rules = release_day(on), _rules_text(contents.settings)
    stored = releases(trail)
    known = _stored_release(stored, contents.settings, on)
    if known is not None and not anew:
        view = view_from_text(known.view)
        if view is not None:
            return view
    earlier = next((one for one in stored if one.month < month or one == known), None)
    before = None if earlier is None else view_from_text(earlier.view)
    view = public_view_of(trail, contents, on, before=before)
    layout = squares_of_boxes(
        contents.ground.boxes, contents.settings.public_rules, on, before=before
    )
    squares = {box: cell.name for box, cell in layout.cell_of_box.items()}
    release = Release(month, rules, view_to_text(view), squares)
    try:
        release = store_release(trail, release, replaces=anew or known is not None)
    except EnvironmentFault:
        return view
    return view_from_text(release.view) or view


def cautions_of(trail: Trail, contents: Contents, on: date) -> tuple[str, ...]:
    """What the keeper should read of what her rules give away on a day."""
    boxes, rules = contents.ground.boxes, contents.settings.public_rules
    stored = releases(trail)
    before = next((view for one in stored if (view := view_from_text(one.view))), None)
    view = public_view_of(trail, contents, on, before=before)
    layout = squares_of_boxes(boxes, rules, on, before=before)
    finer: dict[str, float] = {}
    for release in stored:
        for box, name in release.squares.items():
            size_deg = GridCell.named(name).size_deg
            if size_deg < min(layout.size_deg, finer.get(box, inf)):
                finer[box] = size_deg
    return cautions(view, layout, boxes, rules, published_before=finer)


def _rules_text(settings: Settings) -> str:
    # Whether it counts in a region's pages changes nothing in a trail's own release.
    rules = replace(settings.public_rules, in_region="no")
    return json.dumps([settings.name, rules.as_json()], sort_keys=True)


class PublicViews:
    """Gives the public view of today; the same object through the month, unless rules change."""

    def __init__(self, live: LiveTrail) -> None:
        self._live = live
        self._making = threading.Lock()
        self._known: tuple[date, str, int] | None = None
        self._view: PublicView | None = None

    def __call__(self) -> PublicView:
        """The view of the month.

        Raises
        ------
        EnvironmentFault
            The trail's file can no longer be read.
        """
        with self._making:
            contents, today = self._live.contents(), self._live.today()
            month, rules = release_day(today), _rules_text(contents.settings)
            with self._live.borrowed() as trail:
                if self._known != (month, rules, release_number(trail, month)):
                    self._view = released_view(trail, contents, today)
                    self._known = month, rules, release_number(trail, month)
            assert self._view is not None
            return self._view
