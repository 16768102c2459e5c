"""The rules of plausibility: each looks at one visit, and yields what to ask."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date

from layers.nesting.questions.look import (
    Look,
    Row,
    count_of,
    days_between,
    has_young,
    is_kept_warm,
    nest_before,
    no_eggs,
    on_day,
    was_emptied,
)
from layers.nesting.reading.fates import AGE_ERROR_DAYS
from layers.trail.schema import VISITS
from layers.words import capitalise, format_count, format_day

# Fewest days from the loss of a nest to the first egg of the next (from memory).
_RELAY_DAYS = 5

_CONTENT = tuple(
    field.name
    for field in VISITS.fields
    if not field.automatic and field.name not in ("box", "seen_on", "seen_at", "observer", "opened")
)


@dataclass(frozen=True)
class Question:
    """A question about one visit.

    Attributes
    ----------
    kind
        One of `KINDS`.
    text
        What does not fit, in a sentence, with what would fit where that is known.
    reading
        What the answer changes in the reading of the nest.
    columns
        Columns of the visit to look at again.
    """

    kind: str
    text: str
    reading: str
    columns: tuple[str, ...]


def _counted(count: int, one: str, many: str) -> str:
    """A count at the head of a sentence."""
    return capitalise(format_count(count, one, many))


def _blank(look: Look) -> Iterator[Question]:
    visit = look.visit
    if visit.get("opened") is None and not any(
        visit.get(name) not in (None, "") for name in _CONTENT
    ):
        yield Question(
            "blank",
            "Nothing is recorded of the box. If it was empty, choose nest: none.",
            "A blank visit counts as not looked in: the box stays due, and an empty one is not"
            " known to be empty.",
            ("nest",),
        )


def _same_day(look: Look) -> Iterator[Question]:
    mine = _folded(look.visit.get("observer"))
    for other in look.same_day:
        theirs = _folded(other.get("observer"))
        if mine and theirs and mine != theirs:
            yield Question(
                "same day",
                f"{other['observer']} recorded a visit to this box on the same day."
                " Was it visited twice, or is this the same visit?",
                "Two visits are read one after the other; of one visit entered twice the second"
                " should be left out.",
                ("observer", "seen_on"),
            )


def _folded(name: object) -> str:
    return " ".join(str(name or "").casefold().split())


def _box_there(look: Look) -> Iterator[Question]:
    seen_on = look.visit["seen_on"]
    installed, removed = look.box.get("installed_on"), look.box.get("removed_on")
    early, late = installed and seen_on < installed, removed and seen_on >= removed
    if early or late:
        day = str(installed if early else removed)
        yield Question(
            "no box there",
            f"The box was {'put up' if early else 'taken down'} on"
            f" {format_day(date.fromisoformat(day))} {day[:4]}, by its own record."
            " Is the day of the visit right?",
            "The day decides which season the visit belongs to.",
            ("seen_on",),
        )


def _hole(look: Look) -> Iterator[Question]:
    hole, least = look.box.get("hole_mm"), look.figures.least_hole_mm
    round_hole = look.box.get("hole_shape") in (None, "", "round")
    if look.visit.get("species") and hole and least and round_hole and hole < least:
        yield Question(
            "small hole",
            f"{capitalise(look.figures.a_bird)} does not pass a round hole of {hole:g} mm; by the"
            f" guide it needs {least:g} mm. Is it the species, and is the hole as it was?",
            "The species sets all periods of the nest and the days on which the box stays closed.",
            ("species",),
        )


def _many(look: Look) -> Iterator[Question]:
    figures = look.figures
    for column, what in (("eggs", "eggs"), ("young", "young")):
        count = count_of(look.visit, column)
        if count > figures.eggs_most:
            usual = f"{figures.clutch[0]} to {figures.clutch[1]}"
            yield Question(
                f"many {what}",
                f"{_counted(count, what, what)}: {figures.a_bird} lays {usual} as a rule."
                + (f" Is it {count // 10}?" if count % 10 == 0 else ""),
                "So many are read as laid by several females, or as a slip of the pen.",
                (column,),
            )


def _warm_without_eggs(look: Look) -> Iterator[Question]:
    if look.visit.get("eggs_warm") == "yes" and look.visit.get("eggs") == 0:
        yield Question(
            "warm without eggs",
            "The eggs are recorded as warm, and as none.",
            "No eggs end the nest or set its first egg later; warm eggs show that it lives.",
            ("eggs", "eggs_warm"),
        )


def _age(look: Look) -> Iterator[Question]:
    visit, figures = look.visit, look.figures
    age = visit.get("young_days")
    columns = ("young_days", "young")
    reading = (
        "The age sets the day of hatching, and with it the days on which the box stays closed."
    )
    if age is None:
        return
    if visit.get("young") == 0 and not count_of(visit, "dead_young"):
        yield Question(
            "age without young",
            f"An age of {format_count(age, 'day', 'days')} is recorded, but no living young.",
            "Young set the day of hatching; none end the nest.",
            columns,
        )
        return
    if age > figures.nestling_most + AGE_ERROR_DAYS:
        yield Question(
            "age",
            f"{_counted(age, 'day', 'days')} old: young of {figures.name} leave at"
            f" {figures.nestling_least} to {figures.nestling_most} days."
            + (f" Is it {age // 10}?" if age % 10 == 0 else ""),
            reading,
            columns,
        )
    low, high, why = _age_bounds(look)
    if not low <= age <= high:
        yield Question("age", f"{why[0 if age < low else 1]}", reading, columns)


def _age_bounds(look: Look) -> tuple[float, float, tuple[str, str]]:
    """Least and greatest age by the other visits to the nest, and why, for each end."""
    age = int(look.visit["young_days"])
    low, high, least, most = float("-inf"), float("inf"), "", ""

    def judged(day: int, fits: int, words: str) -> str:
        return f"Judged {age} days old {on_day(look.visit)}, {day} days {words}: {fits} would fit."

    def within(lo: float, hi: float, words: str) -> None:
        nonlocal low, high, least, most
        if lo > low:
            low, least = lo, words
        if hi < high:
            high, most = hi, words

    for one in (*look.nest, *look.following):
        days, known = look.days_since(one), one.get("young_days")
        # Such an age no young of the nest can have: the other visit is of another nest.
        if days + int(known or 0) > look.figures.nestling_most + AGE_ERROR_DAYS:
            continue
        when = "after" if days > 0 else "before"
        if has_young(one) and known is not None:
            fits = int(known) + days
            words = judged(abs(days), fits, f"{when} they were judged {known}")
            within(fits - AGE_ERROR_DAYS, fits + AGE_ERROR_DAYS, words)
        elif has_young(one) and days > 0:
            words = judged(days, days, "after young were first seen, so at least that")
            within(days - AGE_ERROR_DAYS, float("inf"), words)
        elif one.get("young") == 0 and count_of(one, "eggs") > 0 and days > 0:
            words = judged(days, days, "after there were eggs alone, so at most that")
            within(float("-inf"), days + AGE_ERROR_DAYS, words)
    return low, high, (least, most)


def _eggs_after_young(look: Look) -> Iterator[Question]:
    visit, figures = look.visit, look.figures
    eggs, with_young = count_of(visit, "eggs"), [one for one in look.nest if has_young(one)]
    if not eggs or has_young(visit) or not with_young:
        return
    unhatched = max(count_of(one, "eggs") for one in with_young)
    last = with_young[-1]
    days, laying = look.days_since(last), (eggs - 1) * figures.lay_days
    oldest = _oldest(look, last)
    left_first = oldest + days - laying >= figures.nestling_least
    if eggs > unhatched and not left_first and days - laying < _RELAY_DAYS:
        yield Question(
            "eggs after young",
            f"{_counted(eggs, 'egg', 'eggs')} and no young {on_day(visit)},"
            f" {format_count(days, 'day', 'days')} after {_young_words(last)}:"
            " too soon for young to leave and for a new clutch.",
            "Eggs would end the brood and begin another nest; young keep the box closed.",
            ("eggs", "young"),
        )


def _oldest(look: Look, last: Row) -> float:
    """The greatest age that young could have had at a visit; infinite where nothing limits it."""
    if last.get("young_days") is not None:
        return float(last["young_days"])
    before = [
        one for one in look.nest if one.get("young") == 0 and one["seen_on"] < last["seen_on"]
    ]
    return days_between(before[-1], last) if before else float("inf")


def _young_words(visit: Row) -> str:
    count, age = visit.get("young"), visit.get("young_days")
    words = "young" if count is None else format_count(count, "young", "young")
    return words if age is None else f"{words} of {age} days"


def _laid_too_fast(look: Look) -> Iterator[Question]:
    before = next((one for one in reversed(look.nest) if one.get("eggs") is not None), look.empty)
    pairs: list[tuple[Row | None, Row | None]] = [(before, look.visit)]
    if not was_emptied(look.visit):
        after = next((one for one in look.later if one.get("eggs") is not None), None)
        pairs.append((look.visit, after))
    for first, second in pairs:
        if first is None or second is None or has_young(second):
            continue
        if has_young(first) and not was_emptied(first):
            continue
        had = 0 if was_emptied(first) else count_of(first, "eggs")
        has, days = count_of(second, "eggs"), days_between(first, second)
        known = first.get("eggs") is not None or no_eggs(first) or was_emptied(first)
        if known and second.get("eggs") and has - had > days / look.figures.lay_days + 1:
            yield Question(
                "laid too fast",
                f"{_counted(has, 'egg', 'eggs')} {on_day(second)},"
                f" {format_count(days, 'day', 'days')} after {format_count(had, 'egg', 'eggs')}:"
                " faster than one bird lays.",
                "So fast a clutch is read as laid by several females, or one of the counts as a"
                " slip; it moves the first egg.",
                ("eggs",),
            )


def _same_eggs_again(look: Look) -> Iterator[Question]:
    """As many warm eggs as before a visit that found none."""
    visit, empty = look.visit, look.empty
    eggs = count_of(visit, "eggs")
    if empty is None or was_emptied(empty) or look.nest or not eggs or has_young(visit):
        return
    before, _ = nest_before(
        empty, [one for one in look.earlier if one["seen_on"] < empty["seen_on"]]
    )
    last = before[-1] if before else None
    if last is None or has_young(last) or not (is_kept_warm(last) and is_kept_warm(visit)):
        return
    days = look.days_since(empty)
    if count_of(last, "eggs") == eggs and days < eggs * look.figures.lay_days + _RELAY_DAYS:
        yield Question(
            "same eggs again",
            f"{_counted(eggs, 'warm egg', 'warm eggs')} {on_day(last)}, none"
            f" {on_day(empty)}, and as many warm again {on_day(visit)}."
            " Was the visit between to this box?",
            "With the empty visit, a nest was lost and another laid; without it, it is one nest.",
            ("eggs",),
        )


def _hatched_too_soon(look: Look) -> Iterator[Question]:
    visit, figures, empty = look.visit, look.figures, look.empty
    if not has_young(visit) or empty is None or figures.leaves_at_once:
        return
    days = look.days_since(empty)
    laying = (max(count_of(visit, "young"), 1) - 1) * figures.lay_days
    takes = 1 + laying + figures.incubation_least - figures.early_days
    if days < takes:
        found = "the nest was taken out" if was_emptied(empty) else "there were no eggs"
        yield Question(
            "hatched too soon",
            f"{capitalise(_young_words(visit))} {on_day(visit)}, {days} days after {found}:"
            f" eggs take {figures.incubation_least} days and more to hatch.",
            "Without the empty visit it is one nest, hatched earlier; the days on which the box"
            " stays closed move with it.",
            ("young", "seen_on"),
        )


def _more_young(look: Look) -> Iterator[Question]:
    visit, figures = look.visit, look.figures
    young = count_of(visit, "young")
    counted = [one for one in look.nest if one.get("eggs") is not None]
    if not young or not counted:
        return
    last = counted[-1]
    had = count_of(last, "eggs") + count_of(last, "young")
    # An egg laid after that count has not hatched yet.
    too_new = figures.lay_days + figures.incubation_least - figures.early_days
    all_laid = has_young(last) or look.days_since(last) < too_new
    if all_laid and young > had and not figures.leaves_at_once:
        found = _young_words(last) + " and " if has_young(last) else ""
        eggs = format_count(count_of(last, "eggs"), "egg", "eggs")
        yield Question(
            "more young",
            f"{_counted(young, 'young', 'young')} {on_day(visit)}, after"
            f" {found}{eggs} {on_day(last)}: more than could hatch.",
            "One of the counts is a slip; the number hatched and fledged follows from it.",
            ("young",),
        )


def _other_species(look: Look) -> Iterator[Question]:
    visit = look.visit
    mine, before = visit.get("species"), [one for one in look.nest if one.get("species")]
    if not mine or not before or before[-1]["species"] == mine:
        return
    last = before[-1]
    alive = count_of(visit, "eggs") or has_young(visit)
    if alive and (count_of(last, "eggs") or has_young(last)):
        yield Question(
            "other species",
            f"{capitalise(mine)}, where {on_day(last)} {last['species']} had"
            f" {_young_words(last) if has_young(last) else 'eggs'}. Did it take the box over?",
            "Another species begins another nest with periods and closed days of its own.",
            ("species",),
        )


RULES: tuple[Callable[[Look], Iterator[Question]], ...] = (
    *(_blank, _same_day, _box_there, _hole, _many, _warm_without_eggs, _age),
    *(_eggs_after_young, _laid_too_fast, _same_eggs_again, _hatched_too_soon, _more_young),
    _other_species,
)
