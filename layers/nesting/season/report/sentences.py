"""The report in words: first how the boxes did, then what made a difference, then doubts.

Each sentence is made from values of the facts, which go with it (`Sentence`).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from layers.nesting.season.apparent import ENOUGH_FOR_SHARE
from layers.nesting.season.doubts import OnlyBounds
from layers.nesting.season.report.comparing import on_groups, on_years
from layers.nesting.season.report.facts import Counts, SeasonReport, Survival
from layers.nesting.season.report.wording import (
    Sentence,
    Value,
    list_sentence,
    on_success,
    sentence,
)

MAX_LISTED = 5


@dataclass(frozen=True)
class Passage:
    """Some sentences under one heading."""

    name: str
    heading: str
    sentences: tuple[Sentence, ...]


def passages(report: SeasonReport) -> tuple[Passage, ...]:
    """The report in words; the first passage answers how the boxes did.

    It is the only one where no box was visited in the season.
    """
    if report.last_visit is None:
        return (Passage("first", "How did the boxes do?", tuple(_first(report))),)
    each = (
        Passage("first", "How did the boxes do?", tuple(_first(report))),
        Passage("laying", "When did they lay?", tuple(_laying(report))),
        Passage("survival", "How likely was a nest to survive?", tuple(_survival(report))),
        Passage("losses", "What were nests lost to?", tuple(_lost_to(report))),
        Passage("groups", "What made a difference?", tuple(on_groups(report))),
        Passage("years", "How does this season compare?", tuple(on_years(report))),
        Passage("doubts", "Take care", tuple(_doubts(report))),
    )
    return tuple(passage for passage in each if passage.sentences)


def _first(report: SeasonReport) -> Iterator[Sentence]:
    boxes, counts, season = report.use.looked_into, report.counts, report.season
    if report.last_visit is None:
        yield sentence("No box was visited in {season}.", season=season)
        return
    if boxes == 0:
        yield sentence("No box was checked in {season}.", season=season)
        return
    were = "was" if boxes == 1 else "were"
    of = "" if report.species is None else " of {species}"
    named = {} if report.species is None else {"species": report.species}
    if counts.attempts == 0:
        yield sentence(
            f"In {{season}}, {{boxes:boxes}} {were} checked, and none held a nest{of} with "
            "eggs or young.",
            season=season,
            boxes=boxes,
            **named,
        )
        return
    yield sentence(
        f"In {{season}}, {{used}} of {{boxes:boxes}} that {were} checked held a nest{of} with "
        "eggs or young.",
        season=season,
        used=int(report.use.used.parts["used"]),
        boxes=boxes,
        **named,
    )
    yield from _young(report)
    yield _ends(counts)
    if counts.ongoing:
        yield sentence("Still going on: {n:nests}.", n=counts.ongoing)
    yield from on_success(report.survival.success, least=ENOUGH_FOR_SHARE)
    yield from _apart(report)
    if report.species is None:
        most = {facts.species: facts.counts.attempts for facts in report.each_species}
        yield list_sentence(
            "Nests by species: " if len(most) <= MAX_LISTED else "Species with most nests: ",
            "{name} ({n:nests})",
            dict(list(most.items())[:MAX_LISTED]),
        )


def _apart(report: SeasonReport) -> Iterator[Sentence]:
    """The same for all but house sparrows, which keepers judge by themselves."""
    apart = report.apart
    if apart is None:
        return
    text = ""
    values: dict[str, Value] = {"nests": apart.nests, "attempts": apart.counts.attempts}
    if apart.counts.known:
        text = " {fledged} of {known:nests} with a known outcome fledged young"
        values |= {"fledged": apart.counts.fledged, "known": apart.counts.known}
    if apart.young.estimate is not None:
        text += (", and" if text else "") + " about {young:whole} young fledged"
        values |= {"young": apart.young.estimate}
    yield sentence(
        "Without {species}s ({nests:nests}) there were {attempts:nests}"
        + (f":{text}." if text else "."),
        species=apart.species,
        **values,
    )


def _young(report: SeasonReport) -> Iterator[Sentence]:
    """How many young fledged, with the interval where their number is not sure."""
    young, sure = report.young, report.counts.young_fledged
    if young.estimate is None or young.interval is None:
        return
    low, high = young.interval.low, young.interval.high
    if round(high) == 0:
        yield sentence("No young are known to have fledged from {n:nests}.", n=young.n)
    elif round(low) == round(high) == sure:
        yield sentence("{young:whole} young fledged.", young=young.estimate)
    else:
        ends = {} if round(low) == round(high) else {"low": low, "high": high}
        likely = " (likely {low:whole} to {high:whole})" if ends else ""
        yield sentence(
            f"About {{young:whole}} young fledged{likely}; {{sure}} were counted late enough to be "
            "sure.",
            young=young.estimate,
            **ends,
            sure=sure,
        )


def _ends(counts: Counts) -> Sentence:
    n, fledged, failed, unknown = counts.known, counts.fledged, counts.failed, counts.unknown
    if n == 0:
        if unknown == 0:
            return sentence("No nest has a known outcome yet.")
        return sentence("The outcome of {unknown:nests} is unknown.", unknown=unknown)
    rest = "; the outcome of {unknown:nests} is unknown." if unknown else "."
    seen = {"unknown": unknown} if unknown else {}
    if n == 1:
        came = "fledged young" if fledged else "was lost"
        return sentence(f"The {{n}} nest with a known outcome {came}{rest}", n=n, **seen)
    if failed == 0:
        return sentence(f"All {{n:nests}} with a known outcome fledged young{rest}", n=n, **seen)
    if fledged == 0:
        return sentence(f"All {{n:nests}} with a known outcome were lost{rest}", n=n, **seen)
    return sentence(
        "Of {n:nests} with a known outcome, {fledged} fledged young and {failed} "
        f"{'was' if failed == 1 else 'were'} lost{rest}",
        n=n,
        fledged=fledged,
        failed=failed,
        **seen,
    )


def _laying(report: SeasonReport) -> Iterator[Sentence]:
    for facts in report.each_species[:MAX_LISTED]:
        eggs = facts.first_eggs.get("first")
        if eggs is None or eggs.median is None or eggs.earliest is None:
            continue
        if eggs.n == 1:
            yield sentence(
                "{species}: first egg about {day} ({n:nests}).",
                species=facts.species,
                day=eggs.median,
                n=eggs.n,
            )
            continue
        yield sentence(
            "{species}: the first egg about {first}, half of the first broods were begun by "
            "{median} ({n:nests}).",
            species=facts.species,
            first=eggs.earliest,
            median=eggs.median,
            n=eggs.n,
        )


def _survival(report: SeasonReport) -> Iterator[Sentence]:
    survival = report.survival
    apparent, chance, lengths = survival.apparent, survival.success, survival.periods
    if apparent.estimate is not None and apparent.n >= ENOUGH_FOR_SHARE:
        yield sentence(
            "Of the nests with a known outcome, {share:share} fledged young ({n:nests}).",
            share=apparent.estimate,
            n=apparent.n,
        )
    for doubt in apparent.warnings:
        if isinstance(doubt, OnlyBounds):
            yield sentence(
                "The outcome of {n} of {of:nests} is unknown, so only this is certain: between "
                "{low:share} and {high:share} were successful.",
                n=doubt.n,
                of=doubt.of,
                low=doubt.low,
                high=doubt.high,
            )
    if chance.estimate is None or chance.interval is None or lengths is None:
        yield from _without_success(report)
        yield from _daily(survival)
        return
    yield sentence(
        "By all that was seen of nests, {share:share} live from the first egg to fledging "
        "({level:share} interval {low:share} to {high:share}; {n:nests}). Nests of unknown outcome "
        "count with their chances, and nests found late from the day on which they were found.",
        share=chance.estimate,
        level=chance.interval.level,
        low=chance.interval.low,
        high=chance.interval.high,
        n=chance.n,
    )
    yield from _daily(survival)
    yield sentence(
        "The time with eggs was taken as {eggs:count} days (from {eggs_from}), that with "
        "young as {young:count} days (from {young_from}).",
        eggs=lengths.eggs.days,
        eggs_from=lengths.eggs.source,
        young=lengths.young.days,
        young_from=lengths.young.source,
    )


def _without_success(report: SeasonReport) -> Iterator[Sentence]:
    """Why there is no chance to live from the first egg to fledging; that none did is a result."""
    counts, survival = report.counts, report.survival
    open_ends = counts.fledged + counts.unknown + counts.ongoing + counts.taken_out
    if counts.failed and not open_ends and survival.with_young.estimate is None:
        yield sentence(
            "All {n:nests} were lost while they held eggs: no young are known to have hatched, and "
            "none fledged.",
            n=counts.failed,
        )
        return
    yield sentence(
        "No nest was watched over days both with eggs and with young, so the chance to fledge "
        "cannot be estimated."
    )


def _daily(survival: Survival) -> Iterator[Sentence]:
    for stage, daily in (("eggs", survival.with_eggs), ("young", survival.with_young)):
        if daily.estimate is not None:
            yield sentence(
                f"The daily survival rate of nests with {stage} was {{daily:daily rate}} "
                "({n:nests} watched).",
                daily=daily.estimate,
                n=daily.n,
            )


def _lost_to(report: SeasonReport) -> Iterator[Sentence]:
    counts = report.counts
    if counts.failed:
        yield list_sentence(
            "{failed:nests} lost, by the signs in the box: ",
            "{name} {n}",
            counts.causes,
            failed=counts.failed,
        )
    elif counts.attempts:
        yield sentence("None of {n:nests} is known to have been lost.", n=counts.attempts)
    if counts.taken_out:
        yield sentence(
            "The keeper took out {n:nests} with living eggs or young; they do not count as lost.",
            n=counts.taken_out,
        )


def _doubts(report: SeasonReport) -> Iterator[Sentence]:
    if not report.over:
        yield sentence(
            "The season {season} is not over: numbers will change.", season=report.season
        )
    seen: set[str] = set()
    survival = report.survival
    for measure in (
        survival.success,
        survival.apparent,
        report.hatching,
        report.per_attempt,
        report.per_box,
    ):
        for doubt in measure.warnings:
            text = f"{measure.name[:1].upper()}{measure.name[1:]}: {doubt}"
            if measure.estimate is not None and str(doubt) not in seen:
                seen.add(str(doubt))
                yield Sentence(text, vars(doubt))
    if len(report.each_species) > 1:
        yield sentence(
            "Numbers over all species mix species that differ: choose one species, or see the "
            "table of species."
        )
