"""What a trail holds at one version, read once and shared by every request.

Dates and due lists are made once a version. After a visit, the due list of the version before
is the start and only the boxes visited are computed again; at most four days' lists are
carried, so memory stays bounded. Visits are read anew only where they may be read otherwise:
after the trail's words, time zone, guide or start of the season changed, or the ids of its boxes.
A card dates its own box alone: 2 ms, whatever the size of the trail.
"""

from __future__ import annotations

import threading
from bisect import insort
from collections.abc import Callable, Hashable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from functools import cached_property, partial
from operator import attrgetter, methodcaller
from typing import Any, Generic, TypeVar

from layers.nesting.dating import Dates, date_attempts, own_periods, redated, same_earlier_nests
from layers.nesting.due import Due, due, due_by_interval, due_of_box, most_urgent_first
from layers.nesting.guide import Guide, guide_with
from layers.nesting.histories import Histories, read_histories
from layers.nesting.timeline import Service, Timeline, timeline
from layers.trail.changes import Changes
from layers.trail.coding import day_number
from layers.trail.settings import Settings
from layers.trail.store import Trail
from server.live.ground import Ground

T = TypeVar("T")

MAX_BOXES_REREAD = 100
"""Changed boxes up to which each is read anew alone; beyond, all at once is faster."""

MAX_MADE = 32
"""Made things cached: few play through more seasons, and a visitor may request any year."""

MAX_LISTED = 4
"""Days whose due lists are carried over to the next version: today, and what else is looked at."""

MAX_KNOWN = 2
"""Earlier days as on which the trail is held: each is as large as the trail's visits."""

_DATES = "dates"
_DUE = "due"
_KNOWN = "known on"


class _Once(Generic[T]):
    """A value made by the first caller; callers meanwhile wait for it, and no others."""

    def __init__(self) -> None:
        self.made: tuple[T] | None = None
        self._making = threading.Lock()

    def value(self, make: Callable[[], T]) -> T:
        with self._making:
            if self.made is None:
                self.made = (make(),)
            return self.made[0]


def _read_alike(one: Settings, other: Settings) -> bool:
    """Whether the same visits are read alike under two trails' settings."""
    return all(
        of(one) == of(other)
        for of in (
            attrgetter("timezone", "guide", "season_starts"),
            methodcaller("words", "signs"),
            methodcaller("words", "actions"),
        )
    )


@dataclass(frozen=True)
class _Listed:
    """What was due at an earlier version, by the interval of then; boxes that changed since."""

    listed: list[Due]
    every_days: int
    changed: frozenset[str]


@dataclass(frozen=True, eq=False)
class Contents:
    """A trail at one version.

    `histories` lists the boxes of `ground` first, in the same order; behind them any
    box that only a visit names.
    """

    version: int
    settings: Settings
    guide: Guide
    ground: Ground
    histories: Histories
    _listed: Mapping[date, _Listed] = field(default_factory=dict)
    _made: dict[Hashable, _Once[Any]] = field(default_factory=dict)
    _choosing: threading.Lock = field(default_factory=threading.Lock)

    @classmethod
    def read(cls, trail: Trail) -> Contents:
        version = trail.version()
        settings = trail.settings()
        guide = guide_with(settings.guide)
        ground = Ground.read(trail)
        histories = read_histories(trail.visits(), guide, season_starts=settings.season_starts)
        guide = guide.with_own(own_periods(histories))
        return cls(version, settings, guide, ground, replace(histories, guide=guide))

    def caught_up(self, trail: Trail) -> Contents:
        """The contents of the file as it is now; these, if nothing has changed.

        Looks again after each reading, so what it gives holds no half of a change
        that came while it read.
        """
        contents = self
        while True:
            changes = trail.changes_since(contents.version)
            if changes.version == contents.version:
                return contents
            contents = contents._after(changes, trail)

    def _after(self, changes: Changes, trail: Trail) -> Contents:
        if changes.everything or len(changes.boxes) > MAX_BOXES_REREAD:
            return Contents.read(trail)
        settings = trail.settings() if "trail" in changes.tables else self.settings
        ground = self.ground.reread(changes.tables, trail)
        known = changes.boxes <= set(self.histories.visits.boxes) and ground.ids == self.ground.ids
        if not known or not _read_alike(settings, self.settings):
            return Contents.read(trail)
        histories, dates = self.histories, self._dates_if_made()
        for box in sorted(changes.boxes):
            after = histories.replaced(box, trail.visits(box))
            if not same_earlier_nests(histories, after, box):
                # They may change the trail's own periods, and so the days of every nest.
                return Contents.read(trail)
            if dates is not None:
                dates = redated(dates, histories, after, box)
            histories = after
        later = replace(
            self.with_histories(histories),
            version=changes.version,
            settings=settings,
            ground=ground,
            _listed=self._listed_before(changes.boxes | self.ground.altered(ground)),
        )
        if dates is not None:
            later.once(_DATES, lambda: dates)
        return later

    def once(self, key: Hashable, make: Callable[[], T]) -> T:
        """What `make` gives, cached for these contents until many others were made."""
        with self._choosing:
            kept = self._made.pop(key, None) or _Once()
            self._made[key] = kept
            if len(self._made) > MAX_MADE:
                del self._made[next(iter(self._made))]
        made: T = kept.value(make)
        return made

    @cached_property
    def service(self) -> Service:
        """From when to when each box of `histories` stood."""
        boxes = self.ground.boxes
        strays = [None] * (len(self.histories.visits.boxes) - len(boxes))
        return Service.from_days([*boxes["installed_on"], *strays], [*boxes["removed_on"], *strays])

    def timeline(self, season: int, on: date) -> Timeline:
        """What every box is on every day of a season, looked at from a day."""
        return self.once(
            ("timeline", season, on),
            lambda: timeline(
                self.histories, self.dates(), season=season, on=on, service=self.service
            ),
        )

    def dates(self) -> Dates:
        """The days of every attempt; after a visit came, that box alone is dated anew."""
        return self.once(_DATES, lambda: date_attempts(self.histories))

    def _dates_if_made(self) -> Dates | None:
        kept = self._made.get(_DATES)
        return None if kept is None or kept.made is None else kept.made[0]

    def due(self, on: date) -> list[Due]:
        """Every box that stands on a day, the most urgent first. Shared: not to be altered."""
        return self.once((_DUE, on), lambda: self._due(on))

    def _due(self, on: date) -> list[Due]:
        """After a change, the boxes that it changed alone are looked at anew."""
        before = self._listed.get(on)
        if before is None:
            return due(
                self.histories,
                on=on,
                settings=self.settings,
                dates=self.dates(),
                service=self.service,
                guards=self.ground.guards,
            )
        listed = [one for one in before.listed if one.box not in before.changed]
        if before.every_days != self.settings.visit_every_days:
            listed = due_by_interval(
                listed, self.histories, on=on, settings=self.settings, dates=self.dates()
            )
        for box in filter(partial(self._stands, on=on), before.changed):
            now = due_of_box(
                self.histories,
                box,
                on=on,
                settings=self.settings,
                dates=self.dates(),
                guards=self.ground.guards,
            )
            # Sorting 100,000 boxes anew takes longer than all the rest.
            insort(listed, now, key=most_urgent_first)
        return listed

    def _stands(self, box: str, *, on: date) -> bool:
        code, day = self.histories.box_code(box), day_number(on)
        return bool(self.service.since[code] <= day < self.service.until[code])

    def _listed_before(self, changed: frozenset[str]) -> dict[date, _Listed]:
        """Due lists that the next version can begin from."""
        listed = {
            on: replace(one, changed=one.changed | changed) for on, one in self._listed.items()
        }
        every_days = self.settings.visit_every_days
        with self._choosing:
            made = {key: kept.made for key, kept in self._made.items()}
        for key, one in made.items():
            if isinstance(key, tuple) and key[0] == _DUE and one is not None:
                listed.pop(key[1], None)
                listed[key[1]] = _Listed(one[0], every_days, changed)
        near = [(on, one) for on, one in listed.items() if len(one.changed) <= MAX_BOXES_REREAD]
        return dict(near[-MAX_LISTED:])

    def known_on(self, on: date) -> Contents:
        """The same trail as known on a day: from the visits up to it. A few are cached."""
        histories = self.histories
        if not (histories.visits.day > day_number(on)).any():
            return self
        key = (_KNOWN, on)
        with self._choosing:
            others = [at for at in self._made if isinstance(at, tuple) and at[0] == _KNOWN]
            for other in [at for at in others if at != key][: -(MAX_KNOWN - 1)]:
                del self._made[other]
        return self.once(key, lambda: self.with_histories(histories.up_to(on)))

    def with_histories(self, histories: Histories) -> Contents:
        """The same trail with other histories, such as those known on another day."""
        fresh: dict[str, Any] = {"_listed": {}, "_made": {}, "_choosing": threading.Lock()}
        return replace(self, histories=histories, **fresh)

    def tag(self, today: date) -> str:
        """What distinguishes an answer about these contents from one about others."""
        return f"{self.version}-{today:%Y%m%d}"
