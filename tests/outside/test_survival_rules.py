"""The rules of the literature: which nests and days count, the link, and published ranges."""

from __future__ import annotations

import datetime as dt
from typing import Any

import numpy as np
import pytest
from numpy.random import default_rng

from layers.nesting import attempt_columns as c
from layers.nesting.season.apparent import ENOUGH_NESTS, apparent_success
from layers.nesting.season.clutches import clutch_size
from layers.nesting.season.doubts import SmallSample
from layers.nesting.season.likelihood import likelihood_survival
from layers.nesting.season.logistic import interval_survival, interval_survival_slope
from layers.nesting.season.mayfield import mayfield, nest_days
from layers.nesting.season.periods import period_survival
from layers.nesting.season.regression import SurvivalFit, fit_survival
from layers.nesting.season.tables import SeasonTable
from tests.nesting.notebook import BLUEBIRD, read, seen
from tests.nesting.season.made import dated_table, equal_intervals, table_of, thrown
from tests.nesting.season.reports import demo_report

ON = dt.date(2026, 12, 31)


def table(*visits: dict[str, Any]) -> SeasonTable:
    return dated_table(read(*(row | {"species": BLUEBIRD} for row in visits)), on=ON)


EGGS = (seen("05-03", eggs=3), seen("05-10", eggs=5, adult="sitting"))
YOUNG = (*EGGS, seen("05-29", young=5, young_days=10))


def test_a_loss_is_halfway_in_the_window_in_which_it_could_be_seen() -> None:
    # Green 2004, in Sutherland, Newton & Green, Bird Ecology and Conservation, 3.3.6: young 10
    # days old at the last look but one, the last look 10 days later; the window ends at the
    # age of fledging, and the loss is halfway in the shorter window. The guide lets a bluebird
    # stay 15 to 20 days, so at 17 days: 7 days, not 10, and half of them at risk.
    lost = table(*YOUNG, seen("06-08", eggs=0, young=0, signs="nest torn"))
    assert lost.intervals.days[-1] == 7
    before = int(lost.intervals.days[:-1].sum())
    assert nest_days(lost).days == before + 3.5


def test_an_uncertain_fate_ends_at_the_last_active_day_and_a_known_one_midway() -> None:
    # Manolis, Andersen & Cuthbert 2000, Auk 117:615-626: the least biased rule.
    uncertain = table(*YOUNG)
    last_active = dt.date(2026, 5, 29) - dt.date(2026, 5, 3)
    assert nest_days(uncertain).days == last_active.days
    assert nest_days(uncertain).losses == 0
    known = table(*YOUNG, seen("06-02", eggs=0, young=0, signs="nest torn"))
    assert nest_days(known).days == last_active.days + 4 / 2


def test_leaving_uncertain_fates_out_makes_survival_too_low() -> None:
    # The same abstract: to leave them out biases downward.
    random = default_rng(5)
    watched = thrown(random, nests=3000, survival=0.96)
    never_seen_to_end = random.random(len(watched)) < 0.4
    without = watched.take((watched.fate == c.FATE_FAILED) | ~never_seen_to_end)
    kept, dropped = likelihood_survival(watched).estimate, likelihood_survival(without).estimate
    assert kept == pytest.approx(0.96, abs=0.002)
    assert dropped is not None
    assert dropped < 0.955


def test_nests_found_late_make_observed_success_too_high() -> None:
    # Mayfield 1975, Wilson Bulletin 87:456-466, opening text; Miller & Johnson 1978, Journal of
    # Wildlife Management 42:471-476, abstract (discovery-age bias).
    watched = thrown(default_rng(6), nests=3000, survival=0.96, interval_days=14)
    truth = 0.96**35
    observed = apparent_success(watched).estimate
    by_days = period_survival(mayfield(watched), days=35, name="p").estimate
    assert observed is not None
    assert observed > truth + 0.05
    assert by_days == pytest.approx(truth, abs=0.03)


def test_fewer_than_20_nests_are_called_too_few() -> None:
    # Hensler & Nichols 1981, Wilson Bulletin 93:42-53, as quoted in a University of Montana
    # field protocol: estimates from fewer than 20 nests may be unreliable.
    assert ENOUGH_NESTS == 20

    def doubted(n: int) -> bool:
        found = mayfield(equal_intervals(days=7, n=n, lost=4)).warnings
        return any(isinstance(doubt, SmallSample) for doubt in found)

    assert doubted(19)
    assert not doubted(20)


@pytest.mark.parametrize("days", [1, 3, 7, 14])
@pytest.mark.parametrize("eta", [-1.0, 0.5, 3.2])
def test_the_link_is_that_of_the_logistic_exposure_paper(eta: float, days: int) -> None:
    # Shaffer 2004, Auk 121:526-540: g(q) = ln(q**(1/t) / (1 - q**(1/t))), q = (1 / (1 +
    # exp(-eta)))**t, dq/deta = t p**(t - 1) p (1 - p).
    q = float(interval_survival(eta, days))
    root = q ** (1 / days)
    assert np.log(root / (1 - root)) == pytest.approx(eta)
    p = 1 / (1 + np.exp(-eta))
    assert q == pytest.approx(p**days)
    slope = float(interval_survival_slope(eta, days))
    assert slope == pytest.approx(days * p ** (days - 1) * p * (1 - p))
    step = 1e-6
    ends = [float(interval_survival(eta + way * step, days)) for way in (-1, 1)]
    assert slope == pytest.approx((ends[1] - ends[0]) / (2 * step), rel=1e-7)


def test_the_sample_of_aicc_is_days_survived_and_losses() -> None:
    # Rotella, Dinsmore & Shaffer 2004, Animal Biodiversity and Conservation 27.1:187-205 (memory
    # for the definition): days known survived + intervals with a loss.
    made = table_of([(0, 7, 0, False), (0, 5, 0, True), (1, 3, 4, False), (2, 9, 0, True)])
    fit = fit_survival(made, {}, terms=())
    assert isinstance(fit, SurvivalFit)
    assert fit.effective_n == (7 + 7) + 2


# Klett, Duebbert, Faanes & Higgins 1986, US Fish and Wildlife Service Resource Publication 158,
# appendix B (in our words).


def test_a_clutch_with_a_history_of_lost_eggs_is_no_full_clutch() -> None:
    # A full clutch is the size in incubated nests with no history of lost eggs.
    whole = table(*EGGS, seen("05-14", eggs=5, adult="sitting"))
    assert clutch_size(whole).estimate == 5
    fewer = table(
        *EGGS, seen("05-14", eggs=5, adult="sitting"), seen("05-17", eggs=4, adult="sitting")
    )
    measure = clutch_size(fewer)
    assert (measure.estimate, measure.n) == (None, 0)
    assert measure.left_out == {"eggs vanished, so the clutch may have been larger": 1}


def test_what_the_investigator_ended_is_no_loss() -> None:
    # Abandoned nests count as lost, but for those that the investigator made abandon.
    taken = table(*EGGS, seen("05-14", eggs=5, adult="sitting", actions="nest removed"))
    assert nest_days(taken).losses == 0
    assert apparent_success(taken).left_out == {"the keeper took the living nest out": 1}


def test_success_is_one_young_that_leaves_even_where_others_died() -> None:
    # A duck's success ends at hatching; that of a species whose young stay in the box at
    # fledging, with at least one young.
    left = table(
        *YOUNG,
        seen("06-03", young=2, young_days=15, dead_young=3),
        seen("06-10", eggs=0, young=0, signs="flattened;droppings"),
    )
    assert apparent_success(left).estimate == 1.0
    assert apparent_success(table(*EGGS, seen("05-24", eggs=0, signs="nest torn"))).estimate == 0.0


def test_the_demo_is_where_published_cavity_nesters_do() -> None:
    # Plausibility, no oracle. Kozma & Kroll 2010, Condor 112(1), abstract: western bluebird, chance
    # to live through the whole period 0.39 to 0.71 by clutch, intervals from 0.11 to 0.85.
    # Radunzel et al. 1997, Journal of Field Ornithology 68:7-18: eastern bluebird clutch 4.3 and
    # 4.4, hatching success 72 and 82 %, overall 62 and 76 %.
    report = demo_report(species="eastern bluebird")
    chance = report.survival.success
    assert chance.estimate is not None
    assert 0.11 < chance.estimate < 0.85
    (bluebird,) = report.each_species
    assert bluebird.clutch.estimate == pytest.approx(4.35, abs=0.4)
    assert bluebird.hatching.estimate is not None
    assert bluebird.hatching.estimate > 0.7
