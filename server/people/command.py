"""Commands about access to a trail: invite, people, revoke."""

from __future__ import annotations

import argparse
import re
from datetime import datetime

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
    command.add_argument("--name", required=True, help="the person's name, also as observer")
    command.add_argument(
        "--role", required=True, choices=tuple(Role), help="keeper: everything; walker: visits"
    )
    command.add_argument(
        "--days",
        type=int,
        default=ACCESS_DAYS,
        metavar="N",
        help=f"days of access, {ACCESS_DAYS} if left out",
    )
    command.add_argument(
        "--public-url",
        type=_origin,
        default=THIS_MACHINE,
        metavar="URL",
        help="address under which they reach the server, such as https://trail.example.org",
    )
    command.add_argument(
        "--key",
        choices=("program", "calendar"),
        help="print a key for a GIS or script, or a calendar's address, in place of a link",
    )
    command.set_defaults(run=_invite)


def _origin(text: str) -> str:
    # Of a folder of trails, each has its own part: https://region.example.org/t/alderbeck.
    origin = re.sub(r"/t/[A-Za-z0-9._-]+/?$", "", text)
    if not is_origin(origin):
        raise argparse.ArgumentTypeError(
            "Expected an address like https://trail.example.org, or"
            f" https://region.example.org/t/alderbeck in a folder of trails, got {text!r}"
        )
    return text.rstrip("/")


def _invite(arguments: argparse.Namespace) -> int:
    # An invitation needs a readable trail.
    Trail.open(arguments.trail).close()
    now = utc_now()
    role, days = Role(arguments.role), arguments.days
    with People.open_or_create(arguments.trail) as people:
        if arguments.key is None:
            _print_link(
                people.invite(arguments.name, role=role, days=days, now=now), arguments.public_url
            )
        else:
            person, until = people.admit(arguments.name, role=role, days=days, now=now)
            key = people.add_key(person.name, kind=arguments.key, label="command line", now=now)
            _print_person(person, until)
            _print_key(key, arguments.key, arguments.public_url)
    return 0


def _print_person(person: Person, until: datetime) -> None:
    print(f"{person.name} is a {person.role} until {_day(until)}.")


def _print_link(invited: Invitation, origin: str) -> None:
    link = sign_in_link(invited.token, origin=origin)
    _print_person(invited.person, invited.access_expires)
    print(f"The link signs in one device, once, until {_day(invited.link_expires)}:\n\n  {link}\n")
    print(qr_text(link), end="")
    print("The first person who opens it gets access: give it to that person only. For another")
    print("device, invite the same name again.")
    if origin == THIS_MACHINE:
        print("It opens on this machine only; --public-url makes one that opens elsewhere.")


def _print_key(key: str, kind: Kind, origin: str) -> None:
    if kind == "program":
        print(
            "A key for a GIS or a script. It is shown only now. Send it as a bearer key, or as the"
        )
        print(f"password with any user name:\n\n  {key}\n")
    else:
        print("The address of their calendar. It is shown only now:\n")
        print(f"  {calendar_link(key, origin=origin)}\n")


def _day(moment: datetime) -> str:
    return f"{moment:%Y-%m-%d}"


def _people_arguments(command: argparse.ArgumentParser) -> None:
    add_trail(command)
    add_json(command)
    command.set_defaults(run=_people)


def _people(arguments: argparse.Namespace) -> int:
    now = utc_now()
    Trail.open(arguments.trail).close()
    try:
        with People.open(arguments.trail) as people:
            everyone = people.everyone()
    except NotKnown as error:
        # A trail without invitations is an answer, not a fault.
        print(error)
        return 0
    rows = [
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
    if arguments.json:
        print_json(rows)
        return 0
    heads = ("name", "role", "", "since", "last seen", "until", "devices", "programs", "calendars")
    print_table(heads, [tuple(one.values()) for one in rows])
    print(
        f"\nStored in {people_path(arguments.trail).name}, beside the trail. Move the two together."
    )
    return 0


def _revoke_arguments(command: argparse.ArgumentParser) -> None:
    add_trail(command)
    command.add_argument("--name", required=True, help="the person whose access ends")
    command.set_defaults(run=_revoke)


def _revoke(arguments: argparse.Namespace) -> int:
    now = utc_now()
    with People.open(arguments.trail) as people:
        person = people.revoke(arguments.name, now=now)
        left = people.has_keeper(now=now)
    print(f"{person.name} has no access any more, on any device. The visits they entered stay.")
    if not left:
        print("No keeper is left. Invite one with boxround invite --role keeper.")
    return 0


ARGUMENTS = {"invite": _invite_arguments, "people": _people_arguments, "revoke": _revoke_arguments}
