"""What a season's report holds: measures and counts, and nothing that is only wording."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from layers.nesting.season.box_results import BoxResult
from layers.nesting.season.box_use import BoxUse
from layers.nesting.season.comparison import Comparison
from layers.nesting.season.losses import GroupLosses, Losses
from layers.nesting.season.models import ModelTable
from layers.nesting.season.periods import Periods
from layers.nesting.season.phenology import FirstEggs
from layers.nesting.season.result import Measure
from layers.nesting.season.samples import LeftOut


@dataclass(frozen=True)
class Counts:
    """Attempts with eggs or young, by what became of them.

    Attributes
    ----------
    attempts
        All; the five below add up to it.
    taken_out
        Living nests that the keeper took out; not among `failed`.
    young_fledged
        Young that are known to have fledged: at least as many did.
    uncounted
        Of the `fledged`, those whose young were not counted late enough.
    causes
        Cause -> how many of the failed, the most frequent first.
    """

    attempts: int
    fledged: int
    failed: int
    unknown: int
    ongoing: int
    taken_out: int
    young_fledged: int
    uncounted: int
    causes: Mapping[str, int]

    @property
    def known(self) -> int:
        """Nests with a known outcome, but for those that the keeper took out."""
        return self.fledged + self.failed


@dataclass(frozen=True)
class Survival:
    """How likely nests were to survive, by every method side by side.

    `periods` is None where no nest had eggs or young.
    """

    success: Measure
    apparent: Measure
    daily: Measure
    with_eggs: Measure
    with_young: Measure
    midpoint: Measure
    forty: Measure
    periods: Periods | None


@dataclass(frozen=True)
class SpeciesFacts:
    """One species in the season; `first_eggs` by brood."""

    species: str
    counts: Counts
    used: Measure
    clutch: Measure
    hatching: Measure
    brood: Measure
    young: Measure
    per_attempt: Measure
    apparent: Measure
    first_eggs: Mapping[str, FirstEggs]


@dataclass(frozen=True)
class GroupFacts:
    """One group of nests in the season.

    `used` and `per_box` are None where the group is no matter of the box.
    """

    group: str
    counts: Counts
    used: Measure | None
    per_box: Measure | None
    per_attempt: Measure
    apparent: Measure
    losses: GroupLosses | None


@dataclass(frozen=True)
class Groups:
    """Nests by one grouping.

    Attributes
    ----------
    words
        What the groups are.
    season
        The groups in this season.
    comparison
        Whether their daily survival differs in this season.
    without_group
        Attempts of the season whose group is not known.
    omitted
        Groups beyond the most that a report lists: those with the fewest nests.
    all_years
        The same groups over this season and all before.
    success
        Of each of these, the chance to live from the first egg to fledging at its daily
        survival over all seasons.
    """

    by: str
    words: str
    season: tuple[GroupFacts, ...]
    comparison: Comparison
    without_group: int
    omitted: int
    all_years: Losses
    success: Mapping[str, Measure]


@dataclass(frozen=True)
class Predicted:
    """What a model predicts for nests with one value.

    Attributes
    ----------
    with_eggs, with_young
        Daily survival; None where the data put no bound on it.
    success
        The chance to live from the first egg to fledging; its n are the nests with that value.
    """

    value: str
    with_eggs: float | None
    with_young: float | None
    success: Measure


@dataclass(frozen=True)
class Predictions:
    """A model of the stage and one term more, at the values of that term.

    Attributes
    ----------
    nests, losses
        What the model rests on.
    enough
        Whether there were as many losses as its coefficients need.
    """

    term: str
    nests: int
    losses: int
    enough: bool
    each: tuple[Predicted, ...]


@dataclass(frozen=True)
class SurvivalModels(ModelTable):
    """Models of what survival depends on.

    Attributes
    ----------
    predictions
        What those of one term beside the stage predict at its values, the best model first.
    """

    predictions: tuple[Predictions, ...]


@dataclass(frozen=True)
class Apart:
    """A season without the nests of one species.

    Attributes
    ----------
    nests
        How many nests that species had.
    counts, young
        Of all others; `young` are all that fledged.
    """

    species: str
    nests: int
    counts: Counts
    young: Measure


@dataclass(frozen=True)
class YearFacts:
    """One season in a row of them."""

    season: int
    used: Measure
    counts: Counts
    apparent: Measure
    daily: Measure
    success: Measure
    young: Measure
    per_attempt: Measure
    per_box: Measure
    first_eggs: FirstEggs


@dataclass(frozen=True)
class OwnPeriodFacts:
    """How long something took in the trail's finished nests of a species, and by the guide."""

    species: str
    period: str
    mean_days: float
    nests: int
    guide_low: float
    guide_high: float


@dataclass(frozen=True)
class Years:
    """A season and those before it, in the order of time.

    Attributes
    ----------
    trends
        Change per year of some measures.
    risk
        Change per year of the daily risk of loss, by one model of all seasons.
    all_differ
        Whether daily survival differs among the seasons; None with fewer than three.
    with_last
        Whether daily survival differs from that of the season before; None where there
        is none before.
    own_periods
        How long eggs and young took in the trail's own nests.
    """

    each: tuple[YearFacts, ...]
    trends: tuple[Measure, ...]
    risk: Measure
    all_differ: Comparison | None
    with_last: Comparison | None
    own_periods: tuple[OwnPeriodFacts, ...]


@dataclass(frozen=True)
class Weeks:
    """Boxes with a living nest on the first day of each week, by species.

    `days` is empty where no box ever had one.
    """

    days: tuple[date, ...]
    by_species: Mapping[str, tuple[int, ...]]

    @property
    def in_use(self) -> tuple[int, ...]:
        """Of all species together."""
        return tuple(sum(numbers) for numbers in zip(*self.by_species.values(), strict=True))


@dataclass(frozen=True)
class SeasonReport:
    """Everything that a report of a season shows.

    Attributes
    ----------
    species
        Only nests of this one count; None = all.
    on, last_visit
        The day as of which it is made, and the last visit of the season up to it.
    over
        Whether the season's last day has passed.
    hatching, young, per_attempt, per_successful, per_box
        Over all species; `young` are all that fledged.
    apart
        The season without house sparrows; None where none nested, or no other species counts.
    losses
        Daily rate of loss to each cause.
    models
        Models of what survival depends on, over this season and all before; None where
        nests are too few for any.
    left_out
        Measure -> attempts that it leaves out, with the reason.
    """

    trail: str
    season: int
    species: str | None
    on: date
    last_visit: date | None
    over: bool
    use: BoxUse
    counts: Counts
    survival: Survival
    hatching: Measure
    young: Measure
    per_attempt: Measure
    per_successful: Measure
    per_box: Measure
    apart: Apart | None
    each_species: tuple[SpeciesFacts, ...]
    groups: Groups
    losses: Mapping[str, Measure]
    years: Years
    weeks: Weeks
    boxes: tuple[BoxResult, ...]
    models: SurvivalModels | None
    left_out: Mapping[str, tuple[LeftOut, ...]]

    @property
    def predictions(self) -> tuple[Predictions, ...]:
        """Those of the models; empty where there are none."""
        return self.models.predictions if self.models is not None else ()
