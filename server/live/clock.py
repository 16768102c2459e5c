"""What day it is where the trail is. The clock is read here and nowhere else."""

from __future__ import annotations

import math
import time
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo


def utc_now() -> datetime:
    return datetime.now(UTC)


@dataclass(frozen=True)
class Clock:
    """The day to show a trail as on: `fixed`, or today where it is."""

    fixed: date | None = None

    def today(self, zone: ZoneInfo) -> date:
        return self.fixed or utc_now().astimezone(zone).date()

    def day_ends_s(self, day: date, zone: ZoneInfo) -> float:
        """Unix seconds at which `today` gives a later day than `day`; infinite if it never does."""
        if self.fixed is not None:
            return math.inf
        tomorrow = day + timedelta(days=1)
        return datetime(tomorrow.year, tomorrow.month, tomorrow.day, tzinfo=zone).timestamp()

    @staticmethod
    def now_s() -> float:
        """Unix seconds."""
        return time.time()
