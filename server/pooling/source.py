"""What a trail's file gives to an archive."""

from __future__ import annotations

import hashlib
from datetime import date
from importlib.metadata import version
from pathlib import Path

from layers.nesting.guide import guide_with
from layers.nesting.histories import read_histories
from layers.pooling.archive import Pooled
from layers.pooling.manifest import TrailEntry
from layers.pooling.tables import TrailContents, tables_of
from layers.publishing.identifiers import Identifiers
from layers.publishing.view import squares_of_boxes
from layers.trail.coding import day_number
from layers.trail.schema import VISITS
from layers.trail.store import Trail
from server.live.clock import utc_now
from server.live.contents import Contents
from server.live.public_views import released_view
from server.terminal import day_or_today


def identifiers_of(trail: Trail) -> Identifiers:
    """The lasting identifiers of a trail, its boxes and its nests."""
    return Identifiers(trail.identity(), trail.first_entries)


def names_of(trail: Trail) -> frozenset[str]:
    """What a trail is called in archives: one name in full releases, another in all others."""
    identifiers = identifiers_of(trail)
    return frozenset({identifiers.trail, identifiers.public_trail})


def read_trail(path: Path, *, release: str, on: date | None) -> Pooled:
    """What a trail puts into an archive by a release."""
    with Trail.open(path) as trail:
        contents = Contents.read(trail)
        settings = contents.settings
        today = day_or_today(on, contents)
        guide = guide_with(settings.guide)
        every = trail.visits()
        every = every.take(every.day <= day_number(today))
        histories = read_histories(every, guide, season_starts=settings.season_starts)
        view = released_view(trail, contents, today)
        identifiers = identifiers_of(trail)
        columns = ", ".join(VISITS.columns)
        parts = tables_of(
            TrailContents(
                identifiers=identifiers,
                settings=settings,
                boxes=contents.ground.boxes,
                stored=trail.rows(f"SELECT fid, {columns} FROM visits"),
                histories=histories,
                every_visit=every,
                layout=squares_of_boxes(
                    contents.ground.boxes, settings.public_rules, today, before=view
                ),
                view=view,
                on=today,
            ),
            release,
        )
        file_version, names = trail.version(), names_of(trail)
    rules, full = settings.public_rules, release == "full"
    entry = TrailEntry(
        trail=identifiers.trail if full else identifiers.public_trail,
        release=release,
        name=settings.name if full else view.trail,
        region=rules.region or None,
        season_starts=settings.season_starts,
        guide=None if release == "nests over" else settings.guide,
        licence=rules.licence or None,
        file_name=path.name if full else "",
        file_sha256=hashlib.sha256(path.read_bytes()).hexdigest(),
        file_version=file_version if full else None,
        program=version("boxround"),
        pooled_at=utc_now().isoformat(timespec="seconds"),
        as_known_on=today.isoformat(),
    )
    return Pooled(entry, parts, names)
