"""From a day and a time as written to the trail's local day and the moment in UTC."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import MAXYEAR, UTC, date, datetime
from zoneinfo import ZoneInfo

from layers.errors import BadValue
from layers.trail.bring.days import FIRST_YEAR, Clock
from layers.trail.bring.values import said


@dataclass(frozen=True)
class Moment:
    """When a visit was: the trail's local day, and the UTC moment if the time is known."""

    day: date
    at: datetime | None = None
    note: str | None = None


def settle(found: date, clock: Clock | None, zone: ZoneInfo) -> Moment:
    """The local day and UTC moment of a day and time as written.

    A time without a zone is the trail's own. Where the clocks go back it may stand for
    two moments: the first is taken and noted.

    Raises
    ------
    BadValue
        The clocks were put forward over that time, so it never was.
    """
    if clock is None:
        return Moment(found)
    written = f"{clock.time:%H:%M} on {found}"
    if clock.zone is not None:
        at = datetime.combine(found, clock.time, clock.zone).astimezone(UTC)
        local_day = at.astimezone(zone).date()
        note = None
        if local_day != found:
            note = f"{written} {clock.zone} is {local_day} in {zone.key}"
        return Moment(local_day, at, note)
    local = datetime.combine(found, clock.time, zone)
    at = local.astimezone(UTC)
    if at.astimezone(zone).replace(tzinfo=None) != local.replace(tzinfo=None):
        raise BadValue(
            f"a time that was on the clocks of {zone.key}",
            f"{written}, when they were put forward",
        )
    note = None
    if local.replace(fold=1).utcoffset() != local.utcoffset():
        note = f"{written} was twice, as clocks were put back; the first was taken"
    return Moment(found, at, note)


def utc_text(moment: datetime) -> str:
    """A moment as a GeoPackage stores it."""
    return moment.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def stored_moment(value: object) -> str:
    """A moment written with its zone, as a GeoPackage stores it."""
    expected = "a moment with its zone like 2026-05-14T08:30:00Z"
    if isinstance(value, str):
        try:
            value = datetime.fromisoformat(value.strip())
        except ValueError as error:
            raise BadValue(expected, said(value)) from error
    if (
        not isinstance(value, datetime)
        or value.tzinfo is None
        or not FIRST_YEAR <= value.year < MAXYEAR
    ):
        raise BadValue(expected, said(value))
    return utc_text(value)
