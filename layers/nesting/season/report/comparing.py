"""Comparisons in words: groups of nests, models of survival, seasons."""

from __future__ import annotations

from collections.abc import Iterator

from layers.nesting.season.apparent import ENOUGH_NESTS
from layers.nesting.season.comparison import SURE, Comparison
from layers.nesting.season.covariates import TERMS
from layers.nesting.season.likelihood import SUCCESS
from layers.nesting.season.regression import LOSSES_A_COEFFICIENT
from layers.nesting.season.report.facts import GroupFacts, SeasonReport, YearFacts
from layers.nesting.season.report.groupings import grouping
from layers.nesting.season.report.wording import Sentence, Value, sentence
from layers.nesting.season.resampling import LEAST_NESTS
from layers.nesting.season.result import Measure

# Two models whose AICc differ by less are about equally good (Burnham & Anderson 2002,
# Model Selection and Multimodel Inference; from memory).
EQUAL_AICC = 2


def on_groups(report: SeasonReport) -> Iterator[Sentence]:
    """How groups of nests did, whether they differ, and what models make of it."""
    groups = report.groups
    if not groups.season:
        if report.counts.attempts:
            yield sentence("The boxes have nothing recorded to group them by {by}.", by=groups.by)
        return
    for group in groups.season:
        yield _group(group)
    if groups.omitted:
        yield sentence("Not listed: {n} groups with fewer nests.", n=groups.omitted)
    yield from _chances(report)
    yield _comparison(
        groups.all_years.comparison,
        f"Over all seasons up to {{season}}, by {groups.by}",
        season=report.season,
    )
    yield from _models(report)
    yield from _predicted(report)


def _group(group: GroupFacts) -> Sentence:
    counts = group.counts
    if counts.attempts == 0:
        if group.used is not None and group.used.n:
            return sentence(
                "{group}: no nest with eggs in {n:boxes} checked.",
                group=group.group,
                n=group.used.n,
            )
        return sentence("{group}: no nest with eggs.", group=group.group)
    wording = "{group}: "
    values: dict[str, Value] = {}
    if group.used is not None and group.used.n:
        wording += "{used} of {boxes:boxes} used, "
        values |= {"used": int(group.used.parts["used"]), "boxes": group.used.n}
    wording += "{nests:nests}, {fledged} known to have fledged and {failed} lost, "
    young = group.per_attempt.parts.get("young")
    wording += "about {young:whole} young fledged." if young is not None else "still going on."
    if young is not None:
        values["young"] = young
    return sentence(
        wording,
        group=group.group,
        nests=counts.attempts,
        fledged=counts.fledged,
        failed=counts.failed,
        **values,
    )


def _chances(report: SeasonReport) -> Iterator[Sentence]:
    """The chance of a nest in each group with enough of them."""
    enough = [one.group for one in report.groups.all_years.groups if one.enough]
    wordings = []
    values: dict[str, Value] = {"season": report.season}
    for at, group in enumerate(enough):
        chance = report.groups.success[group]
        if chance.estimate is not None:
            wordings.append(f"{{name_{at}}} {{chance_{at}:share}} ({{n_{at}:nests}})")
            values |= {f"name_{at}": group, f"chance_{at}": chance.estimate, f"n_{at}": chance.n}
    if wordings:
        listed = ", ".join(wordings)
        yield sentence(
            "Nests that live from the first egg to fledging, all seasons up to {season}: "
            f"{listed}.",
            **values,
        )


def _comparison(comparison: Comparison, what: str, **values: Value) -> Sentence:
    if comparison.p_value is None:
        return sentence(
            f"{what}: there are not enough data to compare ({{wanted}} nests in each of two "
            "groups, and a loss, are needed).",
            wanted=LEAST_NESTS,
            **values,
        )
    outcome = (
        "nests survived differently"
        if comparison.p_value < SURE
        else "no difference in survival could be shown"
    )
    found = f"{what}: {outcome} (p = {{p:daily rate}}; {{groups}} groups, {{n:nests}})."
    if comparison.p_value >= SURE and comparison.power_of_half is not None:
        found += (
            " A study of this size finds a risk half as high with a chance of {power:share} "
            "({n:nests})."
        )
        values["power"] = comparison.power_of_half
    return sentence(
        found, p=comparison.p_value, groups=len(comparison.compared), n=comparison.n, **values
    )


def _models(report: SeasonReport) -> Iterator[Sentence]:
    models = report.models
    if models is None or len(models.lines) < 2:
        return
    best = models.lines[0]
    plain = next((line for line in models.lines if set(line.fit.terms) <= {"stage"}), best)
    own = {"n": best.fit.nests, "losses": best.fit.losses}
    held = {name for line in models.lines for name in line.fit.terms}
    tried = [name for name in TERMS if name in held - {"stage", "date squared"}]
    if not tried:
        return
    if best.fit.losses < LOSSES_A_COEFFICIENT * len(best.fit.coefficients):
        yield sentence(
            "{losses:losses} over all seasons ({n:nests}) are too few to show what survival "
            "depends on.",
            **own,
        )
        return
    if plain.delta < EQUAL_AICC:
        yield sentence(
            "Over all seasons, none of {tried} predicts survival clearly better than the stage of "
            "the nest alone ({n:nests}, {losses:losses}).",
            tried=", ".join(tried),
            **own,
        )
        return
    yield sentence(
        "Over all seasons survival is predicted best by {terms} ({n:nests}, {losses:losses}). A "
        "pattern is no proof of a cause: guards are fitted where predators are.",
        terms=" and ".join(best.fit.terms),
        **own,
    )


def _predicted(report: SeasonReport) -> Iterator[Sentence]:
    """What a model predicts for the chosen groups, of those with enough nests."""
    for one in report.predictions:
        shown = [
            each
            for each in one.each
            if each.success.interval is not None and each.success.n >= ENOUGH_NESTS
        ]
        if one.term != grouping(report.groups.by).term or not one.enough or len(shown) < 2:
            continue
        wordings = []
        values: dict[str, Value] = {"n": one.nests, "losses": one.losses}
        for at, each in enumerate(shown):
            chance, interval = each.success.estimate, each.success.interval
            assert chance is not None
            assert interval is not None
            wordings.append(
                f"{{name_{at}}} {{chance_{at}:share}} "
                f"({{low_{at}:share}} to {{high_{at}:share}}, {{n_{at}:nests}})"
            )
            values |= {
                f"name_{at}": each.value,
                f"chance_{at}": chance,
                f"low_{at}": interval.low,
                f"high_{at}": interval.high,
                f"n_{at}": each.success.n,
            }
        yield sentence(
            "By a model of {by} and the stage of the nest ({n:nests}, {losses:losses}, all "
            f"seasons), nests live from the first egg to fledging: {', '.join(wordings)}. Groups "
            "may differ in other things too.",
            by=report.groups.by,
            **values,
        )


def on_years(report: SeasonReport) -> Iterator[Sentence]:
    """The season beside the one before, and trends over all."""
    years = report.years.each
    if len(years) < 2 or years[-1].season != report.season:
        yield sentence("There is no season before {season} to compare with.", season=report.season)
        return
    yield sentence(
        f"{_year_wording('a')}; {_year_wording('b')}.",
        **_year_values("a", years[-2]),
        **_year_values("b", years[-1]),
    )
    if report.years.with_last is not None:
        yield _comparison(
            report.years.with_last,
            "Daily survival in {season} and {before}",
            season=report.season,
            before=years[-2].season,
        )
    if report.years.all_differ is not None:
        first = years[0].season
        yield _comparison(
            report.years.all_differ,
            "Daily survival in the seasons {first} to {season}",
            first=first,
            season=report.season,
        )
    yield from _risk(report.years.risk)
    for change in report.years.trends:
        # A line through the success of each year does not know how unsure each is; the model does.
        if report.years.risk.estimate is None or SUCCESS.name not in change.name:
            yield _trend(change)
    for one in report.years.own_periods:
        yield sentence(
            "{species}, {period}: {mean:count} days on this trail ({n:nests}; the guide has {low} "
            "to {high}).",
            species=one.species,
            period=one.period,
            mean=one.mean_days,
            n=one.nests,
            low=one.guide_low,
            high=one.guide_high,
        )


def _risk(change: Measure) -> Iterator[Sentence]:
    """The trend by one model of all seasons; nothing where there are too few."""
    if change.estimate is None or change.interval is None:
        return
    low, high = change.interval.low, change.interval.high
    way = "rose" if low > 0 else "fell" if high < 0 else "no trend could be shown"
    yield sentence(
        f"Daily risk of loss, by one model of all seasons: {way} ({{change:change}} a year, likely "
        "between {low:change} and {high:change}; {n:years}, {nests:nests}).",
        change=change.estimate,
        low=low,
        high=high,
        n=change.n,
        nests=int(change.parts["nests watched"]),
    )


def _year_wording(key: str) -> str:
    return (
        f"{{season_{key}}}: {{used_{key}}} of {{boxes_{key}:boxes}} used, about "
        f"{{young_{key}:whole}} young fledged"
    )


def _year_values(key: str, year: YearFacts) -> dict[str, Value]:
    return {
        f"season_{key}": year.season,
        f"used_{key}": int(year.used.parts.get("used", 0)),
        f"boxes_{key}": year.used.n,
        f"young_{key}": year.young.estimate or 0,
    }


def _trend(change: Measure) -> Sentence:
    what = change.name.removeprefix("change per year of ")
    if change.estimate is None or change.interval is None:
        return sentence(
            "{what}: too few seasons for a trend ({n:years} with a number).", what=what, n=change.n
        )
    low, high = change.interval.low, change.interval.high
    way = "rising" if low > 0 else "falling" if high < 0 else "no trend could be shown"
    return sentence(
        f"{{what}}: {way} ({{change:per year}} a year, {{level:share}} interval {{low:per year}} "
        "to {high:per year}; {n:years}).",
        what=what,
        change=change.estimate,
        level=change.interval.level,
        low=low,
        high=high,
        n=change.n,
    )
