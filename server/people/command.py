"""Commands about who may use a trail: invite, people, revoke."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Mapping
from datetime import datetime
from types import MappingProxyType

from layers.errors import NotKnown
from layers.trail.store import Trail
from server.live.clock import utc_now
from server.settings import is_origin
from server.terminal import add_json, add_trail, print_json, print_table
from server.web.authentication.links import calendar_link, qr_text, sign_in_link
from server.web.authentication.records import Invitation, Kind
from server.web.authentication.roles import Person, Role
from server.web.authentication.side_file import people_path
from server.web.authentication.store import ACCESS_DAYS, People

THIS_MACHINE = "http://127.0.0.1:8000"


def _invite_arguments(command: argparse.ArgumentParser) -> None:
    add_trail(command)
    command.add_argument("--name", required=True, help="who they are; also their name as observer")
    command.add_argument(
        "--role", required=True, choices=tuple(Role), help="keeper: everything; walker: visits"
    )
    command.add_argument(
        "--days",
        type=int,
        default=ACCESS_DAYS,
        metavar="N",
        help=f"how long they may come, {ACCESS_DAYS} if left out",
    )
    command.add_argument(
        "--public-url",
        type=_origin,
        default=THIS_MACHINE,
        metavar="URL",
        help="how they reach the server, such as https://trail.example.org",
    )
    command.add_argument(
        "--key",
        choices=("program", "calendar"),
        help="print a key for a GIS or script, or a calendar's address, in place of a link",
    )
    command.set_defaults(run=_invite)


def _origin(text: str) -> str:
    if not is_origin(text):
        raise argparse.ArgumentTypeError(
            f"Expected an address like https://trail.example.org, got {text!r}"
        )
    return text.rstrip("/")


def _invite(asked: argparse.Namespace) -> int:
    # Nobody is invited to what is no trail.
    Trail.open(asked.trail).close()
    now = utc_now()
    role, days = Role(asked.role), asked.days
    with People.open_or_create(asked.trail) as people:
        if asked.key is None:
            _tell_link(people.invite(asked.name, role=role, days=days, now=now), asked.public_url)
        else:
            person, until = people.admit(asked.name, role=role, days=days, now=now)
            key = people.add_key(person.name, kind=asked.key, label="command line", now=now)
            _tell_person(person, until)
            _tell_key(key, asked.key, asked.public_url)
    return 0


def _tell_person(person: Person, until: datetime) -> None:
    print(f"{person.name} is a {person.role} until {_day(until)}.")


def _tell_link(invited: Invitation, origin: str) -> None:
    link = sign_in_link(invited.token, origin=origin)
    _tell_person(invited.person, invited.access_expires)
    print(f"The link signs in one device, once, until {_day(invited.link_expires)}:\n\n  {link}\n")
    print(qr_text(link), end="")
    print("Whoever opens it first is let in: give it to nobody else. For another device, invite")
    print("them again.")
    if origin == THIS_MACHINE:
        print("It opens on this machine only; --public-url makes one that opens elsewhere.")


def _tell_key(key: str, kind: Kind, origin: str) -> None:
    if kind == "program":
        print("A key for a GIS or a script, told only now. Send it as a bearer key, or as the")
        print(f"password with any user name:\n\n  {key}\n")
    else:
        print("The address of their calendar, told only now:\n")
        print(f"  {calendar_link(key, origin=origin)}\n")


def _day(moment: datetime) -> str:
    return f"{moment:%Y-%m-%d}"


def _people_arguments(command: argparse.ArgumentParser) -> None:
    add_trail(command)
    add_json(command)
    command.set_defaults(run=_people)


def _people(asked: argparse.Namespace) -> int:
    now = utc_now()
    Trail.open(asked.trail).close()
    try:
        with People.open(asked.trail) as people:
            everyone = people.everyone()
    except NotKnown as error:
        # That nobody is invited is an answer, not a fault.
        print(error)
        return 0
    told = [
        {
            "name": one.person.name,
            "role": one.person.role,
            "standing": one.standing(now),
            "since": _day(one.since),
            "last_seen": one.seen and _day(one.seen),
            "expires": _day(one.expires),
            "devices": one.devices,
            "programs": one.programs,
            "calendars": one.calendars,
        }
        for one in everyone
    ]
    if asked.json:
        print_json(told)
        return 0
    heads = ("name", "role", "", "since", "last seen", "until", "devices", "programs", "calendars")
    print_table(heads, [tuple(one.values()) for one in told])
    print(f"\nKept in {people_path(asked.trail).name}, beside the trail. Keep the two together.")
    return 0


def _revoke_arguments(command: argparse.ArgumentParser) -> None:
    add_trail(command)
    command.add_argument("--name", required=True, help="whose access ends")
    command.set_defaults(run=_revoke)


def _revoke(asked: argparse.Namespace) -> int:
    now = utc_now()
    with People.open(asked.trail) as people:
        person = people.revoke(asked.name, now=now)
        left = people.has_keeper(now=now)
    print(f"{person.name} is let in no more, on any device. Visits they entered stay.")
    if not left:
        print("No keeper is left: boxround invite makes one.")
    return 0


ARGUMENTS: Mapping[str, Callable[[argparse.ArgumentParser], None]] = MappingProxyType(
    {"invite": _invite_arguments, "people": _people_arguments, "revoke": _revoke_arguments}
)
