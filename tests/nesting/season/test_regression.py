"""Regression of daily survival: terms, fits, tables of models, predictions."""

from __future__ import annotations

import datetime as dt
import math
from typing import Any

import numpy as np
import pandas as pd
import pytest
from numpy.random import default_rng

from layers.errors import BadValue
from layers.nesting.season.covariates import TERMS, nest_covariates, parts_of
from layers.nesting.season.doubts import Aliased, FewLosses, NoData, Separation, SmallSample
from layers.nesting.season.encoding import encoder
from layers.nesting.season.likelihood import likelihood_survival
from layers.nesting.season.models import compare_models, predict
from layers.nesting.season.regression import NoFit, SurvivalFit, fit_survival
from layers.nesting.season.tables import SeasonTable
from tests.nesting.notebook import BLUEBIRD, read, seen
from tests.nesting.season.made import dated_table, equal_intervals, table_of, thrown
from tests.nesting.season.test_exposure import HATCHED, LAYING

TABLE = thrown(default_rng(1), nests=400, survival=(0.97, 0.94))


def words(*values: str | None) -> np.ndarray[Any, np.dtype[np.object_]]:
    return np.array(values, object)


def fitted(table: SeasonTable, values: dict[str, Any], *terms: str, **more: Any) -> SurvivalFit:
    fit = fit_survival(table, values, terms=terms, **more)
    assert isinstance(fit, SurvivalFit)
    return fit


def guards(*, n: int) -> dict[str, Any]:
    return {"guards": words(*("cone" if i % 3 else "none" for i in range(n)))}


def test_every_value_of_a_box_reaches_its_attempts() -> None:
    boxes = pd.DataFrame(
        {
            "box": ["A1"],
            "section": ["North"],
            "habitat": [None],
            "guards": ["cone;hole plate"],
            "mount": ["post"],
            "hole_mm": [38.0],
            "height_m": [math.nan],
            "facing_deg": [90.0],
            "installed_on": ["2024-05-03"],
        }
    )
    histories = read(*LAYING)
    table = dated_table(histories, on=dt.date(2026, 5, 18))
    values = nest_covariates(histories, table, boxes=boxes)
    assert (values["species"][0], values["year"][0]) == (BLUEBIRD, "2026")
    assert (values["guards"][0], values["habitat"][0]) == ("cone, hole plate", None)
    assert values["hole_mm"][0] == 38
    assert math.isnan(values["height_m"][0])
    # From 3 May 2024 to the first visit on 28 April 2026.
    assert values["box_years"][0] == pytest.approx(725 / 365.25)
    nowhere = nest_covariates(histories, table, boxes=boxes.assign(box="Z9"))
    assert (nowhere["guards"][0], nowhere["section"][0]) == (None, None)
    assert set(values) >= {term.column for term in TERMS.values() if not term.of_part}


def test_a_guard_fitted_after_an_attempt_began_is_not_its_own() -> None:
    columns = ("section", "habitat", "mount", "hole_mm", "height_m", "facing_deg", "installed_on")
    boxes = pd.DataFrame({"box": ["A1"], "guards": ["cone"]} | {name: [None] for name in columns})
    second = [seen(d, eggs=4, species=BLUEBIRD) for d in ("07-10", "07-14")]
    histories = read(
        *LAYING, seen("05-24", eggs=0, young=0, signs="nest torn", actions="guard fitted"), *second
    )
    table = dated_table(histories, on=dt.date(2026, 7, 14))
    found = nest_covariates(histories, table, boxes=boxes)["guards"]
    assert found.tolist() == [None, "cone"]


def test_intervals_are_cut_at_hatching_with_the_age_and_date_of_each_part() -> None:
    parts = parts_of(dated_table(read(*HATCHED), on=dt.date(2026, 5, 24)))
    assert parts.values["stage"].tolist() == ["eggs", "eggs", "eggs", "young"]
    assert parts.days.tolist() == [7, 7, 2, 5]
    # Watched from 3 May, day 122 after 1 January; first egg on 1 May.
    assert parts.values["date"].tolist() == [125.5, 132.5, 137.0, 140.5]
    assert parts.values["age"].tolist() == [5.5, 12.5, 17.0, 20.5]


def test_facing_is_taken_round_the_circle() -> None:
    facing = encoder("facing", np.array([0.0, 90.0, 350.0]))
    columns = facing.columns(np.array([0.0, 360.0, 90.0]))
    assert columns[0] == pytest.approx(columns[1])
    assert columns[2] == pytest.approx([0, 1])
    assert facing.labels == ("facing: north", "facing: east")


def test_a_factor_is_held_against_its_largest_group() -> None:
    fit = fitted(TABLE, guards(n=len(TABLE)), "guards")
    assert [coefficient.name for coefficient in fit.coefficients] == ["constant", "guards: none"]


def test_a_factor_gives_each_group_its_own_likelihood_estimate() -> None:
    values = guards(n=len(TABLE))
    fit = fitted(TABLE, values, "guards")
    constant, none = (coefficient.estimate for coefficient in fit.coefficients)
    for name, logit in (("cone", constant), ("none", constant + none)):
        own = likelihood_survival(TABLE.take(values["guards"] == name))
        assert 1 / (1 + math.exp(-logit)) == pytest.approx(own.estimate, abs=1e-8)


def test_attempts_of_which_a_value_is_not_known_are_left_out_and_counted() -> None:
    height = np.full(len(TABLE), 2.0) + np.arange(len(TABLE)) % 2
    height[:10] = np.nan
    fit = fitted(TABLE, {"height_m": height}, "height")
    assert fit.left_out == {"a value of the model is not known": 10}
    assert fit.nests == len(TABLE) - 10


def test_aicc_goes_by_days_survived_and_losses() -> None:
    fit = fitted(TABLE, {}, "stage")
    i = TABLE.intervals
    n = int(i.days[~i.lost].sum()) + int(i.lost.sum())
    assert fit.effective_n == n
    expected = -2 * fit.log_likelihood + 2 * 2 + 2 * 2 * 3 / (n - 2 - 1)
    assert fit.aicc == pytest.approx(expected)


def test_a_term_that_does_not_exist_is_refused_with_the_nearest() -> None:
    with pytest.raises(BadValue, match=r"nearest: guards.*got 'gards'"):
        fit_survival(TABLE, {}, terms=["gards"])


@pytest.mark.parametrize(
    ("table", "wanted"),
    [
        (table_of([]), "nest that was watched"),
        (equal_intervals(days=7, n=30, lost=0), "nest that was lost"),
        (equal_intervals(days=7, n=30, lost=30), "interval that was survived"),
    ],
)
def test_without_losses_or_survivors_there_is_no_model_and_a_sentence(
    table: SeasonTable, wanted: str
) -> None:
    fit = fit_survival(table, {}, terms=[])
    assert isinstance(fit, NoFit)
    assert fit.warnings == (NoData(wanted),)
    assert f"there is no {wanted}" in fit.sentence()
    assert f"({fit.nests} nests" in fit.sentence()


def test_a_group_without_losses_is_caught_as_separation() -> None:
    table = equal_intervals(days=7, n=60, lost=10)
    values = {"guards": words(*("none" if i < 30 else "cone" for i in range(60)))}
    fit = fitted(table, values, "guards")
    separated = [doubt for doubt in fit.warnings if isinstance(doubt, Separation)]
    assert [doubt.coefficient for doubt in separated] == ["guards: none"]
    assert not fit.coefficients[1].estimable
    assert "no bound" in str(separated[0])


def test_a_well_behaved_fit_is_not_called_separated() -> None:
    values = guards(n=len(TABLE)) | {"height_m": default_rng(2).normal(2, 0.3, len(TABLE))}
    fit = fitted(TABLE, values, "guards", "height", "stage", "date", "nest age")
    assert all(coefficient.estimable for coefficient in fit.coefficients)
    assert not any(isinstance(doubt, Separation) for doubt in fit.warnings)


def test_a_term_that_never_varies_or_repeats_another_is_left_out_and_named() -> None:
    values = guards(n=len(TABLE))
    values["section"] = values["guards"]
    values["hole_mm"] = np.full(len(TABLE), 38.0)
    fit = fitted(TABLE, values, "guards", "section", "hole")
    assert [coefficient.name for coefficient in fit.coefficients] == ["constant", "guards: none"]
    message = [doubt.coefficient for doubt in fit.warnings if isinstance(doubt, Aliased)]
    assert message == ["section: none", "hole"]


def test_tiny_samples_are_doubted() -> None:
    fit = fitted(equal_intervals(days=7, n=12, lost=3), {})
    assert SmallSample(12, 20, "nests watched") in fit.warnings
    assert FewLosses(3, 1) in fit.warnings


def test_models_are_compared_on_the_same_nests_the_best_first() -> None:
    values = guards(n=len(TABLE))
    values["guards"][:20] = None
    result = compare_models(TABLE, values, candidates=[[], ["guards"], ["stage"]])
    assert result.lines[0].fit.terms == ("stage",)
    assert {line.fit.nests for line in result.lines} == {len(TABLE) - 20}
    assert result.left_out == {"a value of the models is not known": 20}
    assert sum(line.weight for line in result.lines) == pytest.approx(1)
    assert result.lines[0].delta == 0
    second = result.lines[1]
    assert second.weight / result.lines[0].weight == pytest.approx(math.exp(-second.delta / 2))


def test_models_without_data_are_listed_apart() -> None:
    result = compare_models(table_of([]), {}, candidates=[[], ["stage"]])
    assert result.lines == ()
    assert len(result.unfit) == 2


def test_a_prediction_is_the_product_of_its_daily_rates_with_the_delta_error() -> None:
    fit = fitted(TABLE, guards(n=len(TABLE)), "guards", "stage")
    found = predict(fit, {"guards": "none"}, egg_days=17, young_days=18)
    assert found.period == pytest.approx(found.daily[0] ** 17 * found.daily[1] ** 18)

    def period(beta: np.ndarray[Any, Any]) -> float:
        names = [coefficient.name for coefficient in fit.coefficients]
        by_name = dict(zip(names, beta, strict=True))
        # The first level of the stage is the one with more parts.
        base = by_name["constant"] + by_name["guards: none"]
        shift = by_name.get("stage: young", 0.0)
        early, late = 1 / (1 + math.exp(-base)), 1 / (1 + math.exp(-base - shift))
        return float(early**17 * late**18)

    assert found.period == pytest.approx(period(fit.beta))
    step = 1e-6
    gradient = np.array(
        [(period(fit.beta + w) - period(fit.beta - w)) / step / 2 for w in step * np.eye(3)]
    )
    expected = math.sqrt(gradient @ fit.covariance @ gradient)
    assert found.standard_error == pytest.approx(expected, rel=1e-5)
    assert found.interval is not None
    assert found.period is not None
    assert 0 < found.interval.low < found.period < found.interval.high < 1


def test_a_prediction_of_one_stage_leaves_the_other_out() -> None:
    fit = fitted(TABLE, {}, "stage")
    found = predict(fit, {}, egg_days=17, young_days=0)
    eggs = likelihood_survival(TABLE, stage="eggs").estimate
    assert eggs is not None
    assert found.period == pytest.approx(eggs**17, abs=1e-7)


def test_a_prediction_for_a_group_without_bound_has_no_interval() -> None:
    table = equal_intervals(days=7, n=60, lost=10)
    values = {"guards": words(*("none" if i < 30 else "cone" for i in range(60)))}
    fit = fitted(table, values, "guards")
    assert fit.encoders[0].levels == ("cone", "none")
    found = predict(fit, {"guards": "none"}, egg_days=7, young_days=0)
    assert (found.period, found.interval) == (None, None)
    assert any(isinstance(doubt, Separation) for doubt in found.warnings)


@pytest.mark.parametrize(
    ("at", "message"),
    [
        ({"hole": 38.0}, "one of guards, got 'hole'"),
        ({"guards": "wire"}, "one of cone, none, got 'wire'"),
    ],
)
def test_a_prediction_for_values_the_model_does_not_know_is_refused(
    at: dict[str, str | float], message: str
) -> None:
    fit = fitted(TABLE, guards(n=len(TABLE)), "guards")
    with pytest.raises(BadValue, match=message):
        predict(fit, at, egg_days=10, young_days=0)
    by_height = fitted(TABLE, {"height_m": np.arange(len(TABLE)) % 3.0}, "height")
    with pytest.raises(BadValue, match="a number, got 'high'"):
        predict(by_height, {"height": "high"}, egg_days=10, young_days=0)
