"""Commands about the trail file itself: new, check, backup, settings."""

from __future__ import annotations

import argparse
import sqlite3
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

from layers.errors import BadValue, BoxroundError
from layers.nesting.guide import guide_with
from layers.nesting.questions import questions_of_box
from layers.trail.backups import back_up_into
from layers.trail.checking import check_trail
from layers.trail.public_rules import PublicRules
from layers.trail.rescuing import rescue
from layers.trail.restoring import restore
from layers.trail.schema import EXTENDABLE
from layers.trail.settings import Settings
from layers.trail.store import Trail
from layers.trail.words import PUBLIC, UNITS, one_word
from server.live.clock import Clock, utc_now
from server.live.ground import Ground
from server.terminal import add_json, add_trail, opened, print_cautions, print_json, print_table
from server.trail_file.doctor import examine
from server.web.authentication.side_file import copy_people

FAULTS_FOUND = 1
"""Exit code of `check`, `doctor` and `backup` where something must be mended."""


def _add_settings(command: argparse.ArgumentParser, *, required: bool) -> None:
    command.add_argument("--name", required=required, help="name of the trail")
    command.add_argument(
        "--timezone", required=required, help="its time zone, such as America/New_York"
    )
    command.add_argument("--units", choices=UNITS, help="what lengths are shown in")
    command.add_argument(
        "--season-starts", metavar="MM-DD", help="the day a season begins on; 07-01 in the south"
    )
    command.add_argument("--visit-every-days", type=int, metavar="N", help="days between visits")
    command.add_argument(
        "--open-ground-m",
        type=int,
        metavar="M",
        help="longest leg of a round straight over open ground, in metres; 0 for none",
    )


def _given_settings(arguments: argparse.Namespace) -> dict[str, Any]:
    names = ("name", "timezone", "units", "season_starts", "visit_every_days", "open_ground_m")
    return {name: value for name in names if (value := getattr(arguments, name)) is not None}


def _new_arguments(command: argparse.ArgumentParser) -> None:
    add_trail(command)
    _add_settings(command, required=True)
    command.set_defaults(run=_new)


def _new(arguments: argparse.Namespace) -> int:
    trail = arguments.trail
    with Trail.create(trail, Settings(**_given_settings(arguments))):
        print(f"Made {trail}, an empty trail. Next: boxround add boxes FILE {trail}")
    return 0


def _check_arguments(command: argparse.ArgumentParser) -> None:
    add_trail(command)
    add_json(command)
    command.set_defaults(run=_check)


def _check(arguments: argparse.Namespace) -> int:
    with Trail.open(arguments.trail) as trail:
        found = [vars(finding) for finding in check_trail(trail)]
    if not any(finding["severity"] == "fault" for finding in found):
        with opened(arguments.trail) as (trail, contents):
            today = Clock().today(contents.settings.zone).isoformat()
            for box in contents.ground.ids:
                visits = trail.visit_rows(box)
                odd = [
                    (row["seen_on"], f"after {today}") for row in visits if row["seen_on"] > today
                ]
                requested_of = questions_of_box(contents.ground.box(box), visits, contents.guide)
                odd += [(row["seen_on"], question.text) for row, question in requested_of]
                found += [
                    {"severity": "look", "where": f"box {box}, {day}", "what": what}
                    for day, what in odd
                ]
            found += [
                {"severity": "look", "where": "paths", "what": sentence}
                for sentence in _recordings_merged(contents.ground)
            ]
    if arguments.json:
        print_json(found)
    elif not found:
        print("Nothing found: the trail is sound.")
    else:
        print_table(("", "where", "what"), [(f["severity"], f["where"], f["what"]) for f in found])
    return FAULTS_FOUND if any(finding["severity"] == "fault" for finding in found) else 0


def _recordings_merged(ground: Ground) -> list[str]:
    # Loading what builds the network takes half a second that other commands need not wait.
    from layers.walking.network.build import build_network  # noqa: PLC0415
    from layers.walking.network.lines import lines_from  # noqa: PLC0415

    lines, _ = lines_from(ground.paths.to_dict("records"))
    return build_network(lines)[1].recording_sentences()


def _backup_arguments(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "trail", type=Path, metavar="TRAIL", help="the trail file, or a folder of trail files"
    )
    command.add_argument(
        "file", type=Path, metavar="FILE", help="the copy to write, or a folder for dated copies"
    )
    command.add_argument(
        "--keep",
        type=int,
        metavar="DAYS",
        help="FILE is a folder: keep a copy of each of that many days, and of each month for ten"
        " years; remove the others",
    )
    command.add_argument(
        "--with-people", action="store_true", help="also copy the list of who may use the trail"
    )
    command.set_defaults(run=_backup)


def _backup(arguments: argparse.Namespace) -> int:
    if not arguments.trail.is_dir():
        _back_up(arguments.trail, arguments)
        return 0
    # One broken file keeps no other from its backup.
    failed = 0
    arguments.file.mkdir(parents=True, exist_ok=True)
    for path in sorted(arguments.trail.glob("*.gpkg")):
        try:
            _back_up(path, arguments)
        except (BoxroundError, sqlite3.Error) as error:
            failed += 1
            print(f"{path.name} has no new backup: {error}", file=sys.stderr)
    return FAULTS_FOUND if failed else 0


def _back_up(path: Path, arguments: argparse.Namespace) -> None:
    with Trail.open_as_it_is(path) as trail:
        target = arguments.file
        if arguments.keep is not None or target.is_dir():
            target = back_up_into(trail, target, now=utc_now(), keep_days=arguments.keep)
        else:
            trail.snapshot(target)
        print(f"Wrote {target}: the trail as it is at version {trail.version()}")
    if arguments.with_people:
        print(f"Wrote {copy_people(path, target)}: who may use the trail")


def _restore_arguments(command: argparse.ArgumentParser) -> None:
    command.add_argument("backup", type=Path, metavar="BACKUP", help="a file that backup wrote")
    add_trail(command)
    command.set_defaults(run=_restore)


def _restore(arguments: argparse.Namespace) -> int:
    done = restore(arguments.backup, arguments.trail)
    print(f"{arguments.trail} holds {arguments.backup.name} again: {done.visits} visits.")
    if done.aside is not None:
        what = "was damaged and" if done.was_damaged else "as it was"
        print(f"The trail {what} is now {done.aside}; delete it when you are sure.")
    if done.was_damaged:
        print("A server that runs goes on with the restored trail; a desktop GIS must reopen it.")
    return 0


def _rescue_arguments(command: argparse.ArgumentParser) -> None:
    add_trail(command)
    command.add_argument("new", type=Path, metavar="NEW", help="the trail to write")
    add_json(command)
    command.set_defaults(run=_rescue)


def _rescue(arguments: argparse.Namespace) -> int:
    found = rescue(arguments.trail, arguments.new)
    lost = [(one.table, sentence) for one in found for sentence in one.lost]
    if arguments.json:
        print_json([vars(one) for one in found])
    else:
        rows = ", ".join(f"{one.rows} {one.table}" for one in found if one.table != "settings")
        print(f"Wrote {arguments.new}: {rows}.")
        if lost:
            print_table(("table", "what is lost"), lost)
            print("Compare it with your newest backup; boxround check looks at its contents.")
    return FAULTS_FOUND if lost else 0


def _doctor_arguments(command: argparse.ArgumentParser) -> None:
    add_trail(command)
    command.add_argument(
        "--backups", type=Path, metavar="FOLDER", help="where its dated backups are"
    )
    add_json(command)
    command.set_defaults(run=_doctor)


def _doctor(arguments: argparse.Namespace) -> int:
    checkups = examine(arguments.trail, now=utc_now(), backups=arguments.backups)
    if arguments.json:
        print_json([vars(one) for one in checkups])
    else:
        print_table(("", "subject", "what"), [(c.state, c.subject, c.what) for c in checkups])
    return FAULTS_FOUND if any(one.state == "fault" for one in checkups) else 0


def _settings_arguments(command: argparse.ArgumentParser) -> None:
    add_trail(command)
    _add_settings(command, required=False)
    command.add_argument(
        "--add-word",
        action="append",
        default=[],
        metavar="LIST=WORD",
        help=f"a word of your own for {', '.join(EXTENDABLE)}",
    )
    command.add_argument(
        "--guide", type=Path, metavar="FILE", help="TOML with the trail's own species figures"
    )
    command.add_argument(
        "--public",
        action="append",
        default=[],
        metavar="RULE=VALUE",
        help="a rule of what the public may see, such as cell=0.1 or delay-days=60",
    )
    command.add_argument(
        "--public-box",
        action="append",
        default=[],
        metavar="BOX=WORD",
        help=f"show one box otherwise to the public: {', '.join(PUBLIC)}",
    )
    command.set_defaults(run=_settings)


def _settings(arguments: argparse.Namespace) -> int:
    changes = _given_settings(arguments)
    with Trail.open(arguments.trail) as trail:
        settings = trail.settings()
        if arguments.add_word:
            changes["own_words"] = _with_words(settings, arguments.add_word)
        if arguments.guide is not None:
            changes["guide"] = _guide_text(arguments.guide)
        if arguments.public:
            changes["public_rules"] = _with_rules(settings, arguments.public)
        # Faults are found before anything is written.
        replace(settings, **changes)
        if arguments.public_box:
            # An id may hold an equals sign, a word does not.
            trail.mark_boxes(dict(_parted(text, last=True) for text in arguments.public_box))
        if changes:
            settings = trail.change_settings(**changes)
    own = "; ".join(f"{name}: {', '.join(words)}" for name, words in settings.own_words.items())
    print_table(
        ("setting", "value"),
        [
            ("name", settings.name),
            ("timezone", settings.timezone),
            ("units", settings.units),
            ("season starts", settings.season_starts),
            ("visit every days", settings.visit_every_days),
            ("open ground (m)", settings.open_ground_m),
            ("own words", own or "none"),
            ("own guide", "none" if settings.guide is None else "yes"),
            *((f"public {name}", value) for name, value in settings.public_rules.to_text()),
        ],
    )
    if settings.public_rules.is_open and (arguments.public or arguments.public_box):
        print_cautions(arguments.trail)
    return 0


def _with_words(settings: Settings, added: list[str]) -> dict[str, tuple[str, ...]]:
    words = dict(settings.own_words)
    for text in added:
        name, equals, word = text.partition("=")
        if not equals or not word.strip() or ";" in word:
            raise BadValue("LIST=WORD, such as signs=moss", repr(text), column="add-word")
        if word.strip() not in settings.words(one_word(name, "add-word", tuple(EXTENDABLE))):
            words[name] = (*words.get(name, ()), word.strip())
    return words


def _with_rules(settings: Settings, typed: list[str]) -> PublicRules:
    rules = settings.public_rules
    guide = guide_with(settings.guide)
    for text in typed:
        rule, value = _parted(text)
        rules = rules.with_text(rule, value)
    for name in rules.coarse_species + rules.withheld_species:
        # A name that the guide does not know would guard nothing.
        guide.find(name)
    return rules


def _parted(text: str, *, last: bool = False) -> tuple[str, str]:
    name, equals, value = text.rpartition("=") if last else text.partition("=")
    if not equals or not name.strip():
        raise BadValue("NAME=VALUE", repr(text), column="public")
    return name.strip(), value.strip()


def _guide_text(path: Path) -> str:
    try:
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise BadValue("a TOML file with species", f"{path}: {error}", column="guide") from error
    guide_with(text)
    return text


ARGUMENTS = {
    "new": _new_arguments,
    "check": _check_arguments,
    "backup": _backup_arguments,
    "restore": _restore_arguments,
    "rescue": _rescue_arguments,
    "doctor": _doctor_arguments,
    "settings": _settings_arguments,
}
