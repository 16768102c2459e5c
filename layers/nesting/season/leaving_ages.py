"""At which ages young leave on one trail, estimated together with the risks that they run.

A box found empty on the 16th day of its young: had they left, or were they lost? The guide's range
is wider than what the birds of one trail do, so by the guide alone a sixth of all broods would have
left by then, and losses of large young were taken for fledglings: 0.12 points a day too few in
simulated seasons whose young leave at 16 to 20 days (the guide: 15 to 20, and a day to either
side). The nests of the table know better. Each term of a course has the chance of its age of
leaving in it, so expectation and maximisation (Dempster, Laird & Rubin 1977, J. R. Stat. Soc. B
39:1-38; from memory) finds the chances that go with the visits, in turn with the rates of loss.
Only what fledged shows when it left, and who stays longer fledges less often: each such nest counts
by one over its chance to have lived so long. Without that, where boxes stay closed until all are
gone, risks that the visits don't show would be taken for earlier leaving. The guide counts as
`GUIDE_NESTS` nests, and an age that it rules out stays so.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from layers.nesting.season.course_likelihood import YOUNG, CourseLikelihood
from layers.nesting.season.courses import Courses
from layers.nesting.season.filling import FLEDGED
from layers.nesting.season.signs import found_chances

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

# The latest nests of each species: more would sharpen little and cost time.
_LATEST_NESTS = 300
# Rates of loss and ages in turn; more changed success by less than 0.05 points.
_TURNS = 3
_ROUNDS = 30
# How many nests the guide counts as (our own choice). As ten, its wide range still hid losses of
# large young in seasons of 45 nests.
GUIDE_NESTS = 5
# A daily risk of young beyond this one is that of very few nests, and weighs as this one.
_MOST_RISK = 0.1
_LEAST = 1e-300


def leaving_ages(
    courses: Courses, stay: Ints, species: Ints, guide: Floats
) -> tuple[Floats, Floats]:
    """The chance of each age at which young leave, by species; shape and meaning of `guide`. And
    the mean age of the nests alone, that of the guide where there are none.

    Parameters
    ----------
    courses
        With the guide's chances in their weights.
    stay
        Of each term, as `fill_courses` has it.
    species
        Row of `guide` of each attempt.
    """
    chosen = _latest(courses, species)
    own = chosen[courses.nest]
    few, stay, species = courses.take(chosen), stay[own], species[chosen]
    ages, each_age = guide.copy(), np.arange(guide.shape[1])
    means = guide @ each_age
    kinds = np.unique(species[few.weighed])
    for _ in range(_TURNS if len(kinds) else 0):
        now = scaled(few, stay, species, guide, ages)
        likelihood = CourseLikelihood(now)
        every, fledged = _by_age(now, likelihood, stay, species, ages)
        risk = min(likelihood.best.hazards[YOUNG], _MOST_RISK)
        lives = np.exp(-risk * each_age)
        for kind in kinds.tolist():
            own = (species == kind) & few.weighed
            for _ in range(_ROUNDS):
                whole = every[own] @ ages[kind]
                left = ages[kind] * (fledged[own] / whole[:, None]).sum(axis=0)
                total, nests = left.sum(), left / lives
                nests *= total / max(nests.sum(), _LEAST)
                ages[kind] = (GUIDE_NESTS * guide[kind] + nests) / (GUIDE_NESTS + total)
            if total > 0:
                means[kind] = nests @ each_age / total
    return ages, means


def scaled(courses: Courses, stay: Ints, species: Ints, guide: Floats, ages: Floats) -> Courses:
    """The courses with other chances of each age in their weights than the guide's."""
    kind = species[courses.nest]
    ratio = np.ones(len(stay))
    one, rest = stay >= 0, stay < 0
    tails = _tails(ages) / np.maximum(_tails(guide), _LEAST)
    ratio[one] = (ages / np.where(guide > 0, guide, 1.0))[kind[one], stay[one]]
    ratio[rest] = tails[kind[rest], np.minimum(-1 - stay[rest], tails.shape[1] - 1)]
    return replace(courses, weight=courses.weight * ratio)


def _tails(chances: Floats) -> Floats:
    """The chance of leaving at an age or later."""
    return np.cumsum(chances[:, ::-1], axis=1)[:, ::-1]


def _latest(courses: Courses, species: Ints) -> NDArray[np.bool_]:
    """The latest nests of each species."""
    chosen = np.zeros(len(species), bool)
    order = np.argsort(-courses.begins, kind="stable")
    order = order[courses.weighed[order]]
    for kind in np.unique(species[order]).tolist():
        chosen[order[species[order] == kind][:_LATEST_NESTS]] = True
    return chosen


def _by_age(
    courses: Courses, likelihood: CourseLikelihood, stay: Ints, species: Ints, ages: Floats
) -> tuple[Floats, Floats]:
    """How likely each age makes what was seen of each nest, and that with fledging, at the
    likeliest rates of loss; shape (attempts, ages).
    """
    eggs, young = likelihood.best.hazards
    terms = courses.weight * np.exp(-(courses.egg_days * eggs + courses.young_days * young))
    if likelihood.beliefs is not None:
        signs = found_chances(likelihood.best.rates)
        terms = terms * signs[courses.end, courses.found[courses.nest]]
    kind, shape = species[courses.nest], (len(courses.found), ages.shape[1])

    def summed(own: NDArray[np.bool_], age: Ints, expected: Floats) -> Floats:
        each = terms[own] / np.maximum(expected[kind[own], age], _LEAST)
        place = courses.nest[own] * ages.shape[1] + age
        held = np.bincount(place, weights=each, minlength=shape[0] * shape[1])
        return held.reshape(shape).astype(float)

    one, left = stay >= 0, (stay >= 0) & (courses.end == FLEDGED)
    from_age = np.minimum(-1 - stay[~one], ages.shape[1] - 1)
    every = summed(one, stay[one], ages)
    every += np.cumsum(summed(~one, from_age, _tails(ages)), axis=1)
    # A difference of two chances may fall below 0 by rounding alone.
    return np.maximum(every, _LEAST), summed(left, stay[left], ages)
