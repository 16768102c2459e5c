"""The report in words: first what anybody asks, then what made a difference, then doubts.

Each sentence is made from values of the facts, which go with it (`Said`).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from layers.nesting.season.report.comparing import on_groups, on_years
from layers.nesting.season.report.facts import Counts, SeasonReport
from layers.nesting.season.report.telling import Said, tell, tell_list

MOST_LISTED = 5


@dataclass(frozen=True)
class Passage:
    """Some sentences under one heading."""

    name: str
    heading: str
    sentences: tuple[Said, ...]


def passages(report: SeasonReport) -> tuple[Passage, ...]:
    """The report in words; the first passage answers how the boxes did.

    It is the only one where nobody visited a box in the season.
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
        Passage("doubts", "What to be careful with", tuple(_doubts(report))),
    )
    return tuple(passage for passage in each if passage.sentences)


def _first(report: SeasonReport) -> Iterator[Said]:
    boxes, counts, season = report.use.looked_into, report.counts, report.season
    if report.last_visit is None:
        yield tell("Nobody visited a box in {season}.", season=season)
        return
    if boxes == 0:
        yield tell("Nobody looked into a box in {season}.", season=season)
        return
    were = "was" if boxes == 1 else "were"
    of = "" if report.species is None else " of {species}"
    named = {} if report.species is None else {"species": report.species}
    if counts.attempts == 0:
        yield tell(
            f"In {{season}}, {{boxes:boxes}} {were} looked into, and none held a nest{of} with "
            "eggs or young.",
            season=season,
            boxes=boxes,
            **named,
        )
        return
    yield tell(
        f"In {{season}}, {{used}} of {{boxes:boxes}} that {were} looked into held a nest{of} with "
        "eggs or young.",
        season=season,
        used=int(report.use.used.parts["used"]),
        boxes=boxes,
        **named,
    )
    yield _young(counts)
    yield _ends(counts)
    if counts.ongoing:
        yield tell("Still going on: {n:nests}.", n=counts.ongoing)
    chance = report.survival.success
    if chance.estimate is not None and chance.interval is not None and counts.known:
        yield tell(
            "From its first egg a nest had a chance of about {chance:share} to see young fledge "
            "(likely between {low:share} and {high:share}; {n:nests} watched).",
            chance=chance.estimate,
            low=chance.interval.low,
            high=chance.interval.high,
            n=chance.n,
        )
    if report.species is None:
        most = {facts.species: facts.counts.attempts for facts in report.each_species}
        yield tell_list(
            "Who nested: " if len(most) <= MOST_LISTED else "Who nested most: ",
            "{name} ({n:nests})",
            dict(list(most.items())[:MOST_LISTED]),
        )


def _young(counts: Counts) -> Said:
    young, uncounted = counts.young_fledged, counts.uncounted
    if uncounted == 0:
        if young == 0:
            return tell("No young are known to have fledged from {n:nests}.", n=counts.attempts)
        return tell("{young} young fledged.", young=young)
    if young == 0:
        return tell(
            "How many young fledged is not known: in {uncounted:nests} that fledged nobody "
            "counted them late enough.",
            uncounted=uncounted,
        )
    return tell(
        "At least {young} young fledged; in {uncounted:nests} that fledged too nobody counted "
        "them late enough.",
        young=young,
        uncounted=uncounted,
    )


def _ends(counts: Counts) -> Said:
    n, fledged, failed, unknown = counts.known, counts.fledged, counts.failed, counts.unknown
    if n == 0:
        if unknown == 0:
            return tell("No nest has come to an end that is known.")
        return tell(
            "Of no nest is the end known: nobody saw how {unknown:nests} ended.", unknown=unknown
        )
    rest = "; how {unknown:nests} ended nobody saw." if unknown else "."
    seen = {"unknown": unknown} if unknown else {}
    if n == 1:
        came = "fledged young" if fledged else "was lost"
        return tell(f"The {{n}} nest whose end is known {came}{rest}", n=n, **seen)
    if failed == 0:
        return tell(f"All {{n:nests}} whose end is known fledged young{rest}", n=n, **seen)
    if fledged == 0:
        return tell(f"All {{n:nests}} whose end is known were lost{rest}", n=n, **seen)
    return tell(
        "Of {n:nests} whose end is known, {fledged} fledged young and {failed} "
        f"{'was' if failed == 1 else 'were'} lost{rest}",
        n=n,
        fledged=fledged,
        failed=failed,
        **seen,
    )


def _laying(report: SeasonReport) -> Iterator[Said]:
    for facts in report.each_species[:MOST_LISTED]:
        eggs = facts.first_eggs.get("first")
        if eggs is None or eggs.median is None or eggs.earliest is None:
            continue
        if eggs.n == 1:
            yield tell(
                "{species}: first egg about {day} ({n:nests}).",
                species=facts.species,
                day=eggs.median,
                n=eggs.n,
            )
            continue
        yield tell(
            "{species}: the first egg about {first}, half of the first broods begun by {median} "
            "({n:nests}).",
            species=facts.species,
            first=eggs.earliest,
            median=eggs.median,
            n=eggs.n,
        )


def _survival(report: SeasonReport) -> Iterator[Said]:
    survival = report.survival
    apparent, chance, lengths = survival.apparent, survival.success, survival.periods
    if apparent.estimate is not None:
        yield tell(
            "Of the nests whose end is known {share:share} fledged young ({n:nests}).",
            share=apparent.estimate,
            n=apparent.n,
        )
    if chance.estimate is None or chance.interval is None or lengths is None:
        yield tell(
            "No nest was watched from day to day both with eggs and with young, so nothing "
            "can be said about survival over the days."
        )
        return
    yield tell(
        "By the days on which nests were watched, {share:share} live from the first egg to "
        "fledging ({level:share} interval {low:share} to {high:share}; {n:nests}). This counts "
        "nests found late, and those whose end nobody saw, for the days they were watched only.",
        share=chance.estimate,
        level=chance.interval.level,
        low=chance.interval.low,
        high=chance.interval.high,
        n=chance.n,
    )
    for stage, daily in (("eggs", survival.with_eggs), ("young", survival.with_young)):
        if daily.estimate is not None:
            yield tell(
                f"A nest with {stage} lived through a day with a chance of {{daily:daily rate}} "
                "({n:nests} watched).",
                daily=daily.estimate,
                n=daily.n,
            )
    yield tell(
        "The time with eggs was taken as {eggs:count} days (from {eggs_from}), that with "
        "young as {young:count} days (from {young_from}).",
        eggs=lengths.eggs.days,
        eggs_from=lengths.eggs.source,
        young=lengths.young.days,
        young_from=lengths.young.source,
    )


def _lost_to(report: SeasonReport) -> Iterator[Said]:
    counts = report.counts
    if counts.failed:
        yield tell_list(
            "{failed:nests} lost, by what the signs in the box say: ",
            "{name} {n}",
            counts.causes,
            failed=counts.failed,
        )
    elif counts.attempts:
        yield tell("None of {n:nests} is known to have been lost.", n=counts.attempts)
    if counts.taken_out:
        yield tell(
            "The keeper took out {n:nests} with living eggs or young; no measure counts them as "
            "lost.",
            n=counts.taken_out,
        )


def _doubts(report: SeasonReport) -> Iterator[Said]:
    if not report.over:
        yield tell("The season {season} is not over: numbers will change.", season=report.season)
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
                yield Said(text, vars(doubt))
    if len(report.each_species) > 1:
        yield tell(
            "Numbers over all species mix species that differ: ask for one by itself, or see the "
            "table of species."
        )
