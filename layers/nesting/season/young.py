"""How many young fledged: an expectation, and draws of what may have been.

A keeper who leaves old broods in peace counts few of them late enough to be sure. So each nest
gives its last count of living young, times its chance to have fledged, less what is expected to
have died alone since that count.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.random import Generator, default_rng
from numpy.typing import NDArray

from layers.nesting import attempt_columns as c
from layers.nesting.dating.model import STANDARD
from layers.nesting.season.course_likelihood import MOST, N_HAZARDS, CourseLikelihood
from layers.nesting.season.filling import FLEDGED
from layers.nesting.season.means import SEED
from layers.nesting.season.result import TAIL, About, Interval
from layers.nesting.season.samples import for_fledged
from layers.nesting.season.tables import SeasonTable

Floats = NDArray[np.float64]

# Draws give the ends of an interval to about a twentieth of its width (our own choice); with very
# many nests a total hardly varies, and fewer draws do.
MAX_DRAWS, LEAST_DRAWS = 400, 60
_MAX_TERMS = 30_000_000
# With no loss in a stage its log hazard is drawn with this standard deviation.
_WIDE = 1.2
# Draws reach a little farther than the curve at the top, and are weighed (importance sampling).
_REACH = 1.2

ABOUT = About(
    method="the last count of living young, times the chance that the nest fledged by all courses "
    "that its visits allow, less young that die alone; interval by draws of rates, ends and young",
    assumptions=(
        "Nests run the same risk on days without a visit, closed days among them.",
        "A brood that was never counted is like those that were.",
        "Young die alone as often after the last count as between two counts.",
    ),
    not_when=(
        "Risk rises or falls late in the nest, on days on which boxes stay closed: look for signs "
        "on the first day on which they may be opened.",
    ),
    reference="Manolis, Andersen & Cuthbert 2000, Auk 117:615-626 (why unknown ends must not be "
    "left out); Etterson & Stanley 2008, Auk 125:687-699 (fates with chances; from memory)",
)
INTERVAL_METHOD = "draws of rates, ends and young"


@dataclass(frozen=True)
class YoungFledged:
    """Of attempts with eggs or young that are over.

    Attributes
    ----------
    attempt
        Position of each in the histories; shape (nests,).
    box
        Code of the box of each.
    chance
        That it fledged.
    expected
        Young that fledged from it.
    drawn_fledged, drawn_young
        What may have been: shape (draws, nests).
    sure
        Young of each that were counted late enough to be sure.
    """

    attempt: NDArray[np.int64]
    box: NDArray[np.int64]
    chance: Floats
    expected: Floats
    drawn_fledged: NDArray[np.bool_]
    drawn_young: NDArray[np.int16]
    sure: NDArray[np.int64]

    def __len__(self) -> int:
        return len(self.attempt)

    def among(self, attempts: NDArray[np.int64]) -> YoungFledged:
        """Those of some attempts, by their positions in the histories."""
        own = np.isin(self.attempt, attempts)
        return YoungFledged(
            self.attempt[own],
            self.box[own],
            self.chance[own],
            self.expected[own],
            self.drawn_fledged[:, own],
            self.drawn_young[:, own],
            self.sure[own],
        )

    def interval_of(self, drawn: Floats) -> Interval:
        """Between which ends 95 % of some drawn numbers lie."""
        low, high = np.quantile(drawn, (TAIL, 1 - TAIL), method="nearest")
        return Interval(float(low), float(high), INTERVAL_METHOD)


def young_fledged(table: SeasonTable) -> YoungFledged:
    """What is expected of the attempts of a table that are over and that the keeper left alone."""
    nests = np.flatnonzero(for_fledged(table).counted)
    likelihood = table.likelihood
    place = np.full(len(table), -1, np.int64)
    place[likelihood.attempts] = np.arange(len(likelihood.attempts))
    own = place[nests]
    # Without a course there is no chance but the fate as read.
    read = (table.fate[nests] == c.FATE_FLEDGED).astype(float)

    def of_nests(chances: Floats) -> Floats:
        with_none = np.concatenate([chances, np.zeros((len(chances), 1))], axis=1)
        return np.where(own >= 0, with_none[:, own], read)

    random = default_rng(SEED)
    each = of_nests(_drawn_chances(likelihood, random, _draws(len(table.courses.nest))))
    chance = each.mean(axis=0)
    fledged = random.random(each.shape) < each
    brood, spread = _brood_sizes(table, nests)
    kept = (1 - table.broods.daily_loss) ** _days_left(table, nests)
    count = np.where(spread, _drawn_broods(table, random, each.shape), brood)
    young = random.binomial(np.rint(count).astype(np.int64), kept) * fledged
    sure = np.where(table.fate[nests] == c.FATE_FLEDGED, table.rows[nests, c.FLEDGED], 0)
    return YoungFledged(
        attempt=table.attempt[nests],
        box=table.rows[nests, c.BOX].astype(np.int64),
        chance=chance,
        expected=chance * brood * kept,
        drawn_fledged=fledged,
        drawn_young=young.astype(np.int16),
        sure=np.maximum(sure, 0).astype(np.int64),
    )


def _draws(terms: int) -> int:
    return int(np.clip(_MAX_TERMS // max(terms, 1), LEAST_DRAWS, MAX_DRAWS))


def _drawn_chances(likelihood: CourseLikelihood, random: Generator, draws: int) -> Floats:
    """Each attempt's chance to have fledged, by rates drawn by their likelihood; shape (draws,
    attempts).
    """
    best = likelihood.best
    hazards = best.hazards
    covariance = likelihood.covariance.copy()
    slope = likelihood.evaluate(np.maximum(best.values, 1e-12))[1][:N_HAZARDS]
    middle = best.values.copy()
    for stage in range(N_HAZARDS):
        inside = 0 < hazards[stage] < MOST
        scale = 1 / hazards[stage] if inside else 0.0
        covariance[stage] *= scale
        covariance[:, stage] *= scale
        # With no loss the likelihood falls off as exp(-hazard * days watched).
        days = max(-slope[stage], 1.0)
        middle[stage] = math.log(hazards[stage] if inside else 0.5 / days)
        if not inside:
            covariance[stage, stage] = _WIDE**2
    values, vectors = np.linalg.eigh(covariance * _REACH**2)
    root = vectors * np.sqrt(np.maximum(values, 0.0))
    noise = random.standard_normal((2 * draws, len(middle)))
    drawn = middle + noise @ root.T
    logs = np.minimum(drawn[:, :N_HAZARDS], math.log(MOST))
    drawn[:, :N_HAZARDS] = np.exp(logs)
    density = -0.5 * (noise**2).sum(axis=1)
    # Jeffreys' belief about a rate, h**-0.5, is h**0.5 of its logarithm.
    weight, chances = likelihood.drawn(drawn)
    weight -= density
    weight += 0.5 * logs.sum(axis=1)
    weight = np.exp(weight - weight.max())
    chosen = random.choice(len(drawn), draws, p=weight / weight.sum())
    return np.asarray(chances[chosen])


def _brood_sizes(table: SeasonTable, nests: NDArray[np.int64]) -> tuple[Floats, NDArray[np.bool_]]:
    """Young of each nest at its last count, less those found dead in it; where it was never
    counted, the mean of those that were, and whether it is one of these.
    """
    last = table.broods.last[nests]
    counted = np.maximum(last - table.broods.dead_at_end[nests], 0)
    others = table.broods.last[table.broods.last > 0]
    eggs = np.where(table.rows[nests, c.EGGS_MAX] > 0, table.rows[nests, c.EGGS_MAX], 0)
    eggs = np.where(eggs > 0, eggs, table.limits[nests, c.CLUTCH_USUAL])
    mean = np.full(len(nests), others.mean()) if len(others) else eggs * (1 - STANDARD.egg_fails)
    unknown = last <= 0
    return np.where(unknown, mean, counted), unknown & (len(others) > 0)


def _drawn_broods(table: SeasonTable, random: Generator, shape: tuple[int, ...]) -> Floats:
    others = table.broods.last[table.broods.last > 0]
    return random.choice(others, shape).astype(float) if len(others) else np.zeros(shape)


def _days_left(table: SeasonTable, nests: NDArray[np.int64]) -> Floats:
    """Mean days from the last count to leaving, over the courses in which each nest fledged."""
    courses = table.courses
    fledged = courses.end == FLEDGED
    nest, weight = courses.nest[fledged], courses.weight[fledged]
    leaves = courses.begins[nest] + courses.egg_days[fledged] + courses.young_days[fledged]
    days = np.maximum(leaves - table.broods.last_day[nest], 0)
    total = np.bincount(nest, weights=weight, minlength=len(table))
    summed = np.bincount(nest, weights=weight * days, minlength=len(table))
    mean = np.divide(summed, total, out=np.zeros(len(table)), where=total > 0)
    return np.where(table.broods.last[nests] > 0, mean[nests], 0.0)
