"""The product's own sentences about a box, sorted by what they make somebody's hand do.

A sentence that could send a hand into a box has a word of `HAND` in it. Each that the product
holds stands in `SENTENCES`, as its source has it ({} for what is filled in); one that does not
is found by `test_box_sentences.py`, and by `offences` wherever it is told of a closed box.
"""

from __future__ import annotations

import ast
import datetime as dt
import html
import re
from collections.abc import Iterator
from pathlib import Path

SHUT, TELLS, LATER, FOR_ALL, OPENS = "shut", "tells", "later", "for all", "opens"
"""Says that the box stays closed; tells what was or may be seen; holds from a later day on;
stands once on a page and is about no box; sends a hand into the box."""

HAND = re.compile(
    r"\b(open(ed)?|check(ed)?|clean(ed)?|count(ed)?|band(ed|ing)?|inside|reach|judged?|aged|"
    r"(un)?cover|lift|look (again|into|in|at the)|handle|take|touch|weigh|measure|sweep|wet it|"
    r"air (it|the)|be read|remove|fit one)\b",
    re.IGNORECASE,
)

ROOT = Path(__file__).parents[2]
TOLD_BY = (
    *(f"layers/nesting/{room}/*.py" for room in ("due", "winter", "dating")),
    "layers/nesting/*.py",
    "layers/walking/round/*.py",
    "layers/maps/themes/due.py",
    "layers/maps/fragments.py",
    "layers/maps/js/*.js",
    "layers/maps/templates/*.html",
    *(f"server/{feature}/static/*.js" for feature in ("due", "field", "rounds", "visits")),
    *(f"server/{page}.html" for page in ("boxes/templates/box", "guide/templates/help")),
    *(f"server/{feature}/templates/*.html" for feature in ("due", "rounds", "visits", "winter")),
    *(f"server/{feature}/page.py" for feature in ("boxes", "due", "visits", "winter", "siting")),
    "server/rounds/*.py",
)
"""Files that hold what is told about a box."""

SENTENCES = {
    # Reasons, and how to approach.
    "The clutch should be complete since {} and can be counted until hatching, {}.{}": OPENS,
    "Hatching was expected {}; the age of the young can be judged well until about {}.{}": OPENS,
    "Young are of an age to be banded {}: for licensed banders only; check your permit.{}": OPENS,
    "Fledging was expected {}; signs of how it ended can be read until about {}.{}": OPENS,
    "The nest was found over on {} and is still in the box. Clean it only when it is seen to be "
    "empty, and check your local law first.": OPENS,
    "clutch can be counted": OPENS,
    "young can be aged": OPENS,
    "fate can be read": OPENS,
    "banding window": OPENS,
    "Do not open {}: young may leave too early.": SHUT,
    "Do not open {} until a look from a distance shows that no adult carries food: the visit of "
    "{} found the nest over, and if that is wrong there may be large young.": SHUT,
    "Watch first: if an adult still carries food, do not open.": SHUT,
    "The visit of {} does not go with the one before, which saw this nest alive. Please check "
    "it, and correct the record.": TELLS,
    "watch from a distance; do not open": SHUT,
    "Do not open": SHUT,
    "Do not open.": SHUT,
    "not opened": TELLS,
    "they were judged": TELLS,
    ": eggs take": TELLS,
    ". Did it take the box over?": TELLS,
    "not counted": TELLS,
    "not counted, last": TELLS,
    "Not opened since {}": TELLS,
    "Not opened this season": TELLS,
    # What comes next, on the card and in the calendar.
    "For licensed banders only: marking wild birds needs a permit in most places; check yours "
    "and your local law.": OPENS,
    "Box {box}: banding window, licensed banders only ({species})": OPENS,
    "Leave the box closed {}: young of about {} days and more may leave too early. Watch from a "
    "distance; do not open.": SHUT,
    "From {} on the young should have left: the box can be checked, and cleaned once it is seen "
    "to be empty. Check your local law first: a nest in use is protected in most places.": LATER,
    "Box {box}: check whether the young have left ({species})": LATER,
    "check and clean": LATER,
    # Cautions.
    "A mouse has used this box. Rodent dust can carry disease: whenever it is cleaned, air it, "
    "wear gloves, wet it with disinfectant, wait five minutes, never sweep it dry, and keep your "
    "face upwind.": TELLS,
    "Not in cold, wet or very windy weather, nor in the first hours of the morning while eggs "
    "are being laid; be quick and close the box well (common practice, no source).": OPENS,
    "Nests in use are protected in most places and handling or marking birds needs a permit: "
    "keep to your local law and licence.": TELLS,
    "Take care": TELLS,
    "On cold days leave eggs and young covered: put the visit off rather than keep a parent "
    "away, and skip a box where one sits tight (common practice, no source).": FOR_ALL,
    "Droppings and nests of mice can carry disease: air the box, wear gloves, wet the nest with "
    "disinfectant or one part of bleach in nine of water, leave it five minutes, and never "
    "sweep it dry (CDC, Hantavirus pulmonary syndrome: clean up, 2008).": FOR_ALL,
    "Take care with ladders, wasps, snakes, cattle and the weather. No box is worth a "
    "fall.": FOR_ALL,
    "Set a ladder on firm ground, have a second person hold it, and leave a box that you cannot "
    "reach safely (common practice, no source).": FOR_ALL,
    "Banding is for licensed banders: in the United States a federal permit is needed, and most "
    "states ask for one too (USGS Bird Banding Laboratory); elsewhere ask locally.": FOR_ALL,
    "Clean out only a nest that is over and a box that is empty, and check your local law first: "
    "a nest with eggs or young must not be destroyed, and an old one may not be kept without a "
    "permit in the United States (USFWS, Bird nests: what you need to know).": FOR_ALL,
    # Winter: these lists leave a box alone while a nest may be going on.
    "Found wet inside {}, last on {}: look at the roof, the joints and the drain holes.": OPENS,
    "; no guard is recorded: look, and fit one if there is none.": OPENS,
    "House sparrows laid in it in {}: they take boxes and nests of other birds. Move it away from "
    "buildings, or give it a hole that only smaller birds pass (from memory).": OPENS,
    "Open it, clear it out, and look at roof, door, hole, drain holes and what it hangs on.": OPENS,
    "{} Take it down, or try it elsewhere.": OPENS,
    "Found wet inside on {}.": TELLS,
    "Not checked in the season {}.": TELLS,
    "No egg in it in any of the {} seasons {} to {} in which it was checked.": TELLS,
    "No box was checked and found without an egg in each of its latest two seasons or more.": TELLS,
    "checked this season, and no nest": FOR_ALL,
    "Clean only a box that is seen to be empty, and check your local law first: late nests, "
    "roosting birds, bats and other animals use boxes too, and some are protected "
    "(common practice, no source).": FOR_ALL,
    "Rodent dust can carry disease: do not sweep it out dry; air the box, wear gloves, wet it "
    "with disinfectant, wait five minutes, and keep your face upwind (CDC 2008).": FOR_ALL,
    "Measure a distance": FOR_ALL,
    # The record, and why a nest is read so.
    "{}. Please check this visit": TELLS,
    "Please look again at {}. Correct what is wrong below, tick what is right, and save.": FOR_ALL,
    "If you are not sure, leave the species not recorded: that is better than a guess. The chances "
    "weigh the species of the guide that live here and pass the hole, by its words on nests and "
    "eggs and by the nests of this trail; how often a description is wrong is our own "
    "estimate.": TELLS,
    "given all its visits, {}: counted as {}": TELLS,
    "{} counted on {}": TELLS,
    "eggs were never counted": TELLS,
    "their age judged {}": TELLS,
    "no egg was ever seen, so it does not count as a nest that failed": TELLS,
    "the egg count fell on the way: some eggs were lost": TELLS,
    "known from an adult sitting tight; eggs were not counted": TELLS,
    "the ages judged on different visits do not agree": TELLS,
    "{} counted as fledged": TELLS,
    "at most {} can have fledged; they were last counted too early to say more": TELLS,
    "how many fledged is not known: the young were not counted": TELLS,
    "nothing noted about the inside": TELLS,
    "nothing recorded about the inside": TELLS,
    "nothing recorded of the inside": TELLS,
    "Nothing is recorded of the inside.": TELLS,
    "Last seen inside ({}): {}.": TELLS,
    "What is due here, and where to take care, is shown for {} only.": TELLS,
    "Expected inside": TELLS,
    "Expected inside: {}": TELLS,
    # Pages, and the labels of a nest's bars; a bar starts on the day from which it holds.
    "Watch from a distance; do not open.": SHUT,
    "Before you open it": OPENS,
    "Look next at: {}.": OPENS,
    "Banding, licensed only": OPENS,
    "Check, then clean": TELLS,
    "Minutes to look inside": FOR_ALL,
    "Time for a look inside one box.": FOR_ALL,
    "time for a look inside one box; {} if left out": FOR_ALL,
    "Round on {} from {}{} to {}, {} min for a look inside": FOR_ALL,
    "Hatching, banding, closed and check days (iCalendar)": FOR_ALL,
    "Clean out only a nest that is over. Rodent dust can carry disease: air the box, wear "
    "gloves, wet the nest with disinfectant, wait five minutes, never sweep it dry (CDC, "
    "Hantavirus pulmonary syndrome: clean up, 2008).": FOR_ALL,
    "Young count as fledged only where they were seen alive at an age at which young leave, or "
    "where signs of leaving were found at such an age. Otherwise the outcome is unknown. Each "
    "nest gives the reasons for its outcome.": FOR_ALL,
}

SAYS_SHUT = re.compile(
    r"watch from a distance|do not open|look from the path|keep closed|leave the box closed|"
    r"nothing is to be done there",
    re.IGNORECASE,
)
"""Says that a box is to stay closed."""

NOT_OF_BOXES = re.compile(
    r"open ground|Open the card|this page open|a page opened with|page opens again|Open it$|"
    r"scan it, or open|Open the form|an open edit|more urgent boxes|never checked|not checked|"
    r"The box stays closed|details:not"
)
"""Sentences with such a word that are about pages, files and the ground."""

MONTHS = [dt.date(2000, month, 1).strftime("%B") for month in range(1, 13)]


def _pattern(template: str) -> re.Pattern[str]:
    """Finds the sentence in a text; what is filled in is short and ends no sentence.

    What is filled in at the end stays, and is looked through like any other text.
    """
    parts = re.split(r"\{\w*\}", re.sub(r"\{\}\.?$", "", template.strip()))
    return re.compile(r"[^.;]{1,80}?".join(re.escape(part) for part in parts), re.IGNORECASE)


_FROM = re.compile(rf"From (\d+) ({'|'.join(MONTHS)}) on ")
_ALLOWED = [
    (kind, _pattern(template)) for template, kind in SENTENCES.items() if kind in (SHUT, TELLS)
]
_LATER = [_pattern(template) for template, kind in SENTENCES.items() if kind == LATER]
_FORBIDDEN = [_pattern(template) for template, kind in SENTENCES.items() if kind == OPENS]


def offence(told: str, *, on: dt.date) -> str:
    """What in a line told of a closed box may send a hand into it on a day; empty if nothing."""
    for pattern in _FORBIDDEN:
        if found := pattern.search(told):
            return found[0]
    rest = told
    for pattern in _LATER:
        while found := pattern.search(rest):
            first = _FROM.match(found[0])
            if first is None or _day(first, on) <= on:
                return found[0]
            rest = rest.replace(found[0], "")
    for _, pattern in _ALLOWED:
        rest = pattern.sub("", rest)
    return rest if HAND.search(rest) else ""


def _day(found: re.Match[str], on: dt.date) -> dt.date:
    return dt.date(on.year, MONTHS.index(found[2]) + 1, int(found[1]))


BLOCK = (
    r"</?(?:li|p|t[dhr]|[uo]l|d[ldt]|h\d|div|section|article|summary|details|table|caption|text)"
    r"\b[^>]*>"
)


def lines(page: str) -> list[str]:
    """What a page says, a line for each of its blocks."""
    texts = (re.sub(r"<[^>]*>", "", part) for part in re.split(BLOCK, page))
    return [said for text in texts if (said := " ".join(html.unescape(text).split()))]


def part(page: str, begin: str, end: str) -> str:
    at = page.index(begin)
    return page[at : page.index(end, at)]


def product_sentences() -> Iterator[tuple[str, str]]:
    """File and text of what the product tells of boxes, and of whatever else stands there."""
    for pattern in TOLD_BY:
        for path in sorted(ROOT.glob(pattern)):
            read = {".py": _of_python, ".js": _of_script, ".html": _of_template}[path.suffix]
            for text in read(path.read_text(encoding="utf-8")):
                if " " in text.strip():
                    yield str(path.relative_to(ROOT)), text.strip()


def _of_python(source: str) -> Iterator[str]:
    tree = ast.parse(source)
    told = (ast.Constant, ast.JoinedStr)
    nodes = list(ast.walk(tree))
    # Docstrings, and the pieces of a text that is filled in.
    skipped = {id(node.value) for node in nodes if isinstance(node, ast.Expr)}
    for node in nodes:
        if isinstance(node, ast.JoinedStr):
            skipped |= {id(part) for part in node.values}
    for node in nodes:
        if not isinstance(node, told) or id(node) in skipped:
            continue
        parts = node.values if isinstance(node, ast.JoinedStr) else [node]
        texts = [part.value if isinstance(part, ast.Constant) else "{}" for part in parts]
        yield "".join(text for text in texts if isinstance(text, str))


def _of_script(source: str) -> Iterator[str]:
    yield from re.findall(r'"([^"\n]*)"', source)


def _of_template(source: str) -> Iterator[str]:
    code = "".join(re.findall(r"\{[{%].*?[}%]\}", source, re.DOTALL))
    yield from re.findall(r'"([^"{}<>]*)"', code)
    bare = re.sub(r"\{%.*?%\}|\{#.*?#\}", "\n", source, flags=re.DOTALL)
    yield from re.split(r"<[^>]*>|\n", re.sub(r"\{\{.*?\}\}", "{}", bare, flags=re.DOTALL))
