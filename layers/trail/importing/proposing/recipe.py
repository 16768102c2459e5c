"""A person's answers as a file that she can read and edit, and as the trail remembers them."""

from __future__ import annotations

import hashlib
import json
import re
import tomllib
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, Protocol

from layers.errors import BadValue, Refused
from layers.trail.importing.cells import quoted
from layers.trail.importing.columns import Kind
from layers.trail.importing.header import columns_of
from layers.trail.importing.opening import open_table
from layers.trail.importing.proposing.answers import (
    LEAVE_OUT,
    SECTIONS,
    Answers,
    Decision,
    Place,
    Question,
)
from layers.trail.importing.proposing.columns import OWN, ROLES
from layers.trail.importing.proposing.feature_tables import SYSTEM, feature_roles
from layers.trail.store import Trail
from layers.trail.words import nearest_words


class Understood(Protocol):
    """What a recipe is made of: a proposal for visits, boxes or paths."""

    @property
    def file(self) -> str: ...
    @property
    def questions(self) -> Sequence[Question]: ...
    @property
    def decisions(self) -> Sequence[Decision]: ...


OPEN = "?"
"""Stands where an answer is wanted."""

_OF_ONE_FILE = re.compile(r"year in |.*, this file$|text beside days|far away|.+ in .+")
_REMEMBERED = ("columns", "boxes", "species", "waypoints", "shapes")


def content_of(path: Path) -> str:
    """What changes when a file does."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _columns(kind: Kind) -> tuple[str, ...]:
    """What a column may be."""
    return (*ROLES, OWN) if kind == "visits" else feature_roles(kind)


def recipe_text(proposal: Understood, *, content: str, kind: Kind = "visits") -> str:
    """The proposal as TOML: what was understood, and `?` for what is open."""
    lines = [
        f"# How Boxround reads {_comment(proposal.file)}. Change what is right of a = as you like.",
        f'# "{OPEN}" is a question: its rows are not added until you put an answer there.',
        f"# A column may be: {', '.join(_columns(kind))} or {LEAVE_OUT!r}.",
        *([f"# {OWN!r} is kept with the visit under your name for it."] * (kind == "visits")),
        f"file = {_string(proposal.file)}",
        f"content = {_string(content)}",
    ]
    for section in SECTIONS:
        questions = [one for one in proposal.questions if one.section == section]
        decisions = [one for one in proposal.decisions if one.section == section]
        if not questions and not decisions:
            continue
        lines += ["", f"[{section}]"]
        for question in questions:
            lines += _question(question)
        lines += [_decision(decision) for decision in decisions]
    return "\n".join(lines) + "\n"


def _question(question: Question) -> list[str]:
    lines = [f"# {_comment(question.text)} ({places_text(question.places)})"]
    for value, meaning in question.options.items():
        likely = "likely: " if value == question.proposal else ""
        shown = f"{value} = {meaning}" if meaning != value else value
        lines.append(f"#   {likely}{_comment(shown)}")
    if question.grounds:
        lines.append(f"#   ({_comment(question.grounds)})")
    return [*lines, f"{_string(question.item)} = {_string(OPEN)}"]


def _decision(decision: Decision) -> str:
    return f"{_string(decision.item)} = {_string(decision.value)}  # {_comment(decision.grounds)}"


def places_text(places: list[Place]) -> str:
    """Where cells are, in words: "row 5" or "12 cells, the first in row 5 of Box 3"."""
    if not places:
        return "the whole file"
    first = places[0]
    where = f"row {first.row}" + (f" of {first.sheet}" if first.sheet else "")
    return where if len(places) == 1 else f"{len(places)} cells, the first in {where}"


def _string(text: str) -> str:
    # JSON's strings are TOML's, but for one control character.
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def _comment(text: str) -> str:
    return "".join(letter if letter.isprintable() else " " for letter in text)


def read_recipe(path: Path, *, source: Path, kind: Kind = "visits") -> Answers:
    """The answers of a recipe, for the file that it was made for.

    Raises
    ------
    BadValue
        It is no recipe, holds an answer that means nothing, or the file has changed since.
    """
    try:
        held = tomllib.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError as error:
        raise BadValue("a recipe that --propose wrote", f"no file {path}") from error
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise BadValue(f"a recipe in TOML ({path.name})", str(error)) from error
    content = held.pop("content", None)
    held.pop("file", None)
    if content is not None and content != content_of(source):
        raise BadValue(
            f"{source.name} as it was when {path.name} was made; run --propose again, or delete"
            f" the line content in {path.name} if its answers hold for this file too",
            "a file with other content",
        )
    return checked_answers(held, where=path.name, kind=kind)


def checked_answers(
    held: Mapping[str, object], *, where: str, kind: Kind = "visits"
) -> dict[str, dict[str, str]]:
    """Answers without open ones; refuses what no question could have."""
    answers: dict[str, dict[str, str]] = {}
    known = (*_columns(kind), LEAVE_OUT)
    for section, entries in held.items():
        if section not in SECTIONS or not isinstance(entries, Mapping):
            raise BadValue(f"sections {', '.join(SECTIONS)} in {where}", quoted(section))
        for item, value in entries.items():
            text = str(value).strip()
            if section == "columns" and item != SYSTEM and text not in (*known, OPEN):
                near = ", ".join(nearest_words(text, known) or known)
                raise BadValue(f"a column such as {near} for {item!r} in {where}", quoted(text))
            if text != OPEN:
                answers.setdefault(section, {})[item] = text
    return answers


def is_as_headed(answers: Answers, source: Path) -> bool:
    """Whether a recipe for visits says no more than the header of the file does.

    Then the file is read as a stream, by its header, however large it is.
    """
    if any(entries for section, entries in answers.items() if section != "columns"):
        return False
    try:
        with open_table(source, kind="visits", progress=lambda done, total: None) as table:
            found, _ = columns_of(table, source.suffix, kind="visits", mapping={}, given=None)
    except Refused:
        return False
    headed = {theirs: ours for ours, theirs in found.chosen.items()}
    headed |= {name: OWN for _, name in found.others}
    return all(headed.get(name) == value for name, value in answers.get("columns", {}).items())


def merged(*many: Answers) -> dict[str, dict[str, str]]:
    """Answers together; later ones go before earlier ones."""
    joined: dict[str, dict[str, str]] = {}
    for answers in many:
        for section, entries in answers.items():
            joined.setdefault(section, {}).update(entries)
    return joined


def remembered(trail: Trail, kind: Kind = "visits") -> dict[str, dict[str, str]]:
    """What was answered about earlier files of this trail."""
    held = _stored(trail)
    if kind != "visits":
        held = held.get(_of(kind), {})
    try:
        held = {section: of for section, of in held.items() if not section.startswith(_of(""))}
        return checked_answers(held, where="the trail's import_answers", kind=kind)
    except (AttributeError, BadValue):
        return {}  # written by another program; the questions come again


def _of(kind: str) -> str:
    """Where answers about files that hold no visits are stored."""
    return f"of {kind}"


def _stored(trail: Trail) -> dict[str, Any]:
    ((text,),) = trail.rows("SELECT import_answers FROM trail")
    try:
        held = json.loads(text or "{}")
    except ValueError:
        return {}
    return held if isinstance(held, dict) else {}


def lasting(answers: Answers) -> dict[str, dict[str, str]]:
    """The answers that hold for the next file too; those about one file's cells do not."""
    found = {
        section: {
            item: value
            for item, value in entries.items()
            if section in _REMEMBERED
            or item.startswith(("order in", "without a", "bare numbers in", "NA in"))
            or not _OF_ONE_FILE.fullmatch(item)
        }
        for section, entries in answers.items()
    }
    return {section: entries for section, entries in found.items() if entries}


def remember(trail: Trail, answers: Answers, kind: Kind = "visits") -> None:
    """Store the answers that hold for the next file too."""
    before = remembered(trail, kind)
    after = merged(before, lasting(answers))
    if after != before:
        with trail.write() as connection:
            others = _stored(trail)
            if kind == "visits":
                others = {of: held for of, held in others.items() if of.startswith(_of(""))}
            whole = others | (after if kind == "visits" else {_of(kind): after})
            held = json.dumps(whole, ensure_ascii=False)
            connection.execute("UPDATE trail SET import_answers = ?", (held,))
