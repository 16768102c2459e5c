"""How keepers of five languages write, from `languages.toml`."""

from __future__ import annotations

import datetime as dt
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True)
class Language:
    """Words and forms of one keeper."""

    name: str
    heads: Mapping[str, str]
    species: Mapping[str, str]
    guide: Mapping[str, str]
    day: str
    short_day: str
    box: str
    eggs: str
    young: str
    warm: str
    empty: str
    days: str
    total: str
    months: list[str]
    delimiter: str
    encoding: str

    def written(self, day: dt.date) -> str:
        return self.day.format(day=day)

    def written_short(self, day: dt.date) -> str:
        return self.short_day.format(d=day.day, m=self.month(day))

    def month(self, day: dt.date) -> str:
        """The name of a month from April on."""
        return self.months[day.month - 4]

    def of_box(self, box: str) -> str:
        return self.box.format(box=box)


LANGUAGES = tuple(
    Language(name, **held)
    for name, held in tomllib.loads(
        Path(__file__).with_name("languages.toml").read_text(encoding="utf-8")
    ).items()
)
