"""A person's answers as a file that she can read and edit, and as the trail remembers them."""

from __future__ import annotations

import hashlib
import json
import re
import tomllib
from collections.abc import Mapping
from pathlib import Path

from layers.errors import BadValue
from layers.trail.importing.cells import quoted
from layers.trail.importing.proposing.answers import (
    LEAVE_OUT,
    SECTIONS,
    Answers,
    Decision,
    Place,
    Question,
)
from layers.trail.importing.proposing.columns import OWN, ROLES
from layers.trail.importing.proposing.proposal import Proposal
from layers.trail.store import Trail
from layers.trail.words import nearest_words

OPEN = "?"
"""Stands where an answer is wanted."""

_OF_ONE_FILE = re.compile(r"year in |.*, this file$|text beside days|.+ in .+")
_REMEMBERED = ("columns", "boxes", "species")


def content_of(path: Path) -> str:
    """What changes when a file does."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def recipe_text(proposal: Proposal, *, content: str) -> str:
    """The proposal as TOML: what was understood, and `?` for what is open."""
    lines = [
        f"# How Boxround reads {_comment(proposal.file)}. Change what is right of a = as you like.",
        f'# "{OPEN}" is a question: its rows are not added until you put an answer there.',
        f"# A column may be: {', '.join(ROLES)},",
        f'# "{OWN}" (kept with the visit under your name for it) or "{LEAVE_OUT}".',
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


def read_recipe(path: Path, *, source: Path) -> Answers:
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
    return checked_answers(held, where=path.name)


def checked_answers(held: Mapping[str, object], *, where: str) -> dict[str, dict[str, str]]:
    """Answers without open ones; refuses what no question could have."""
    answers: dict[str, dict[str, str]] = {}
    for section, entries in held.items():
        if section not in SECTIONS or not isinstance(entries, Mapping):
            raise BadValue(f"sections {', '.join(SECTIONS)} in {where}", quoted(section))
        for item, value in entries.items():
            text = str(value).strip()
            if section == "columns" and text not in (*ROLES, OWN, LEAVE_OUT, OPEN):
                near = ", ".join(nearest_words(text, (*ROLES, OWN, LEAVE_OUT)) or ROLES)
                raise BadValue(f"a column such as {near} for {item!r} in {where}", quoted(text))
            if text != OPEN:
                answers.setdefault(section, {})[item] = text
    return answers


def merged(*many: Answers) -> dict[str, dict[str, str]]:
    """Answers together; later ones go before earlier ones."""
    joined: dict[str, dict[str, str]] = {}
    for answers in many:
        for section, entries in answers.items():
            joined.setdefault(section, {}).update(entries)
    return joined


def remembered(trail: Trail) -> dict[str, dict[str, str]]:
    """What was answered about earlier files of this trail."""
    ((held,),) = trail.rows("SELECT import_answers FROM trail")
    try:
        return checked_answers(json.loads(held or "{}"), where="the trail's import_answers")
    except (ValueError, AttributeError, BadValue):
        return {}  # written by another program; the questions come again


def remember(trail: Trail, answers: Answers) -> None:
    """Keep the answers that hold for the next file too; those about one file's cells do not."""
    lasting = {
        section: {
            item: value
            for item, value in entries.items()
            if section in _REMEMBERED
            or item.startswith(("order in", "without a", "bare numbers in", "NA in"))
            or not _OF_ONE_FILE.fullmatch(item)
        }
        for section, entries in answers.items()
    }
    before = remembered(trail)
    after = merged(before, {section: entries for section, entries in lasting.items() if entries})
    if after != before:
        with trail.write() as connection:
            held = json.dumps(after, ensure_ascii=False)
            connection.execute("UPDATE trail SET import_answers = ?", (held,))
