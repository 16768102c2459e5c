"""The side file: who is in it, what it keeps of a secret, and that nothing breaks it."""

from __future__ import annotations

import os
import signal
import sqlite3
import stat
import subprocess
import sys
import threading
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest

from layers.errors import BadValue, EnvironmentFault, NotKnown, StorageFull, TrailBusy
from server.web.authentication.roles import Role
from server.web.authentication.side_file import people_path
from server.web.authentication.store import MAX_KEYS, People
from server.web.authentication.tokens import digest, new_token
from tests.server.conftest import locked
from tests.server.team import NOW, device

DAY = timedelta(days=1)


@pytest.fixture
def trail(tmp_path: Path) -> Path:
    return tmp_path / "trail.gpkg"


@pytest.fixture
def people(trail: Path) -> Iterator[People]:
    with People.open_or_create(trail) as opened:
        yield opened


def test_only_its_owner_can_read_the_side_file(people: People) -> None:
    device(people, "Wren", Role.KEEPER, now=NOW)
    for path in people.path.parent.glob("*.people*"):
        assert stat.S_IMODE(path.stat().st_mode) == 0o600, path.name


def test_no_secret_is_in_the_side_file(people: People) -> None:
    link = people.invite("Wren", role=Role.KEEPER, now=NOW).token
    _, token = people.exchange(link, device="d", label="phone", now=NOW)
    key = people.add_key("Wren", kind="program", label="gis", now=NOW)
    people.close()
    held = b"".join(path.read_bytes() for path in people.path.parent.glob("*.people*"))
    for secret in (link, token, key):
        assert len(secret) >= 43
        assert secret.encode() not in held
    assert digest(token) in held


def test_a_link_opens_one_device_once(people: People) -> None:
    link = people.invite("Wren", role=Role.KEEPER, now=NOW).token
    key, _ = people.exchange(link, device="phone", label="phone", now=NOW)
    assert (key.person.name, key.person.role, key.kind) == ("Wren", Role.KEEPER, "device")
    with pytest.raises(NotKnown, match="was not used yet"):
        people.exchange(link, device="other", label="other", now=NOW)


def test_a_form_sent_twice_over_a_bad_line_signs_in_once(people: People) -> None:
    link = people.invite("Wren", role=Role.KEEPER, now=NOW).token
    first, second = (
        people.exchange(link, device="phone", label="phone", now=NOW)[1] for _ in range(2)
    )
    assert first == second
    assert people.everyone()[0].devices == 1


def test_a_link_used_up_does_not_open_again_after_its_device_signed_out(people: People) -> None:
    link = people.invite("Wren", role=Role.KEEPER, now=NOW).token
    key, _ = people.exchange(link, device="phone", label="phone", now=NOW)
    people.forget_key(key.number, of=key.person)
    with pytest.raises(NotKnown, match="signed out"):
        people.exchange(link, device="phone", label="phone", now=NOW)


@pytest.mark.parametrize(("days", "after_days"), [(365, 7), (3, 3)])
def test_a_link_grows_old(people: People, days: int, after_days: int) -> None:
    link = people.invite("Wren", role=Role.KEEPER, now=NOW, days=days).token
    with pytest.raises(NotKnown, match="still holds"):
        people.exchange(link, device="phone", label="phone", now=NOW + after_days * DAY)
    people.exchange(link, device="phone", label="phone", now=NOW + after_days * DAY / 2)


def test_a_clock_that_jumps_does_no_lasting_harm(people: People) -> None:
    token = device(people, "Wren", Role.KEEPER, now=NOW, days=30)
    key = people.key(digest(token))
    assert key is not None
    people.saw(key.number, now=NOW + 5000 * DAY)
    people.saw(key.number, now=NOW - 5000 * DAY)
    found = people.key(digest(token))
    assert found is not None
    assert (found.expires, found.seen) == (NOW + 30 * DAY, NOW + 5000 * DAY)
    people.revoke("Wren", now=NOW - 9000 * DAY)
    found = people.key(digest(token))
    assert found is not None
    assert found.revoked


def test_inviting_again_changes_role_and_days_and_keeps_the_person(people: People) -> None:
    first = people.invite("Wren", role=Role.WALKER, now=NOW).person
    again = people.invite("  wren ", role=Role.KEEPER, now=NOW, days=10)
    assert (again.person.number, again.person.name) == (first.number, "Wren")
    (listed,) = people.everyone()
    assert (listed.person.role, listed.expires) == (Role.KEEPER, NOW + 10 * DAY)


def test_someone_revoked_and_invited_again_is_another_person(people: People) -> None:
    token = device(people, "Wren", Role.WALKER, now=NOW)
    gone = people.revoke("WREN", now=NOW)
    again = people.invite("Wren", role=Role.WALKER, now=NOW).person
    assert gone.number != again.number
    found = people.key(digest(token))
    assert found is not None
    assert found.revoked
    assert [one.standing(NOW) for one in people.everyone()] == ["invited", "revoked"]


def test_a_link_of_someone_revoked_does_not_open(people: People) -> None:
    link = people.invite("Wren", role=Role.WALKER, now=NOW).token
    people.revoke("Wren", now=NOW)
    with pytest.raises(NotKnown, match="still holds"):
        people.exchange(link, device="phone", label="phone", now=NOW)
    with pytest.raises(NotKnown, match="with access, got 'Wren'"):
        people.revoke("Wren", now=NOW)


@pytest.mark.parametrize("name", ["", "  ", "x" * 81, "a\x00b", "a\u202eb"])
def test_a_name_that_cannot_be_shown_is_refused(people: People, name: str) -> None:
    with pytest.raises(BadValue, match="a name of 1 to 80 letters"):
        people.invite(name, role=Role.WALKER, now=NOW)


@pytest.mark.parametrize("days", [0, -1, 3651])
def test_days_out_of_range_are_refused(people: People, days: int) -> None:
    with pytest.raises(BadValue, match="1 to 3650 days"):
        people.invite("Wren", role=Role.WALKER, now=NOW, days=days)


def test_keys_of_one_person_do_not_pile_up_and_the_newest_stays(people: People) -> None:
    people.invite("Wren", role=Role.WALKER, now=NOW)
    for number in range(MAX_KEYS + 3):
        last = people.add_key("Wren", kind="program", label=f"{number}", now=NOW)
    assert people.everyone()[0].programs == MAX_KEYS
    assert people.key(digest(last)) is not None


def test_whether_there_is_a_keeper_minds_time_and_revoking(people: People) -> None:
    people.invite("Robin", role=Role.WALKER, now=NOW)
    assert people.anybody()
    assert not people.has_keeper(now=NOW)
    people.invite("Wren", role=Role.KEEPER, now=NOW, days=2)
    assert people.has_keeper(now=NOW)
    assert not people.has_keeper(now=NOW + 2 * DAY)
    people.revoke("Wren", now=NOW)
    assert not people.has_keeper(now=NOW)
    assert people.anybody()


def test_no_one_invited_is_reported_with_what_to_do(trail: Path) -> None:
    with pytest.raises(NotKnown, match="boxround invite makes a link"):
        People.open(trail)
    assert not people_path(trail).exists()


def test_a_damaged_side_file_is_reported_and_left_alone(trail: Path) -> None:
    people_path(trail).write_bytes(b"no database" * 100)
    with pytest.raises(EnvironmentFault, match=r"trail\.gpkg\.people is damaged"):
        People.open(trail)
    assert people_path(trail).read_bytes().startswith(b"no database")


def test_a_side_file_of_another_form_is_refused(trail: Path, people: People) -> None:
    people.close()
    with sqlite3.connect(people_path(trail)) as connection:
        connection.execute("UPDATE about SET format = 'boxround people 9'")
    connection.close()
    with pytest.raises(EnvironmentFault, match="in the form 'boxround people 1'"):
        People.open(trail)


def test_a_folder_that_cannot_be_written_is_reported(tmp_path: Path) -> None:
    with pytest.raises(StorageFull, match="cannot be written"):
        People.open_or_create(tmp_path / "nowhere" / "trail.gpkg")


def test_another_writer_is_waited_for_and_then_reported(trail: Path) -> None:
    with People.open_or_create(trail, busy_s=0.1) as people, locked(people.path):
        with pytest.raises(TrailBusy, match=r"writing to trail\.gpkg\.people"):
            people.invite("Wren", role=Role.WALKER, now=NOW)
        assert people.everyone() == []


def test_two_who_create_and_invite_at_once_both_end_up_in_one_file(trail: Path) -> None:
    begun = threading.Barrier(6)

    def invite(number: int) -> None:
        begun.wait()
        with People.open_or_create(trail) as people:
            people.invite(f"Walker {number}", role=Role.WALKER, now=NOW)
            people.invite("Wren", role=Role.KEEPER, now=NOW)

    threads = [threading.Thread(target=invite, args=(number,)) for number in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    with People.open(trail) as people:
        assert len(people.everyone()) == 7
    assert list(trail.parent.glob("*.people-?????*")) == []


def test_of_two_devices_that_race_for_a_link_one_is_let_in(trail: Path) -> None:
    with People.open_or_create(trail) as people:
        link = people.invite("Wren", role=Role.KEEPER, now=NOW).token
    begun, won = threading.Barrier(5), []

    def open_link(number: int) -> None:
        with People.open(trail) as people:
            begun.wait()
            try:
                won.append(people.exchange(link, device=f"{number}", label="x", now=NOW))
            except NotKnown:
                return

    threads = [threading.Thread(target=open_link, args=(number,)) for number in range(5)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(won) == 1


INVITE_FOREVER = """
import sys
from datetime import datetime, UTC
from pathlib import Path
from server.web.authentication.roles import Role
from server.web.authentication.store import People
with People.open_or_create(Path(sys.argv[1])) as people:
    number = 0
    while True:
        name = f"Walker {sys.argv[2]} {number}"
        people.invite(name, role=Role.WALKER, now=datetime.now(UTC))
        print(name, flush=True)
        number += 1
"""


def test_a_killed_process_loses_no_one_it_acknowledged(trail: Path) -> None:
    told: list[str] = []
    for turn in range(4):
        process = subprocess.Popen(
            [sys.executable, "-c", INVITE_FOREVER, str(trail), str(turn)],
            stdout=subprocess.PIPE,
            text=True,
        )
        assert process.stdout is not None
        told += [process.stdout.readline().strip() for _ in range(5)]
        os.kill(process.pid, signal.SIGKILL)
        # What it had told before it died counts too; a line cut short was not told.
        rest = process.stdout.read()
        told += [line.strip() for line in rest.splitlines(keepends=True) if line.endswith("\n")]
        process.wait()
        process.stdout.close()
    with People.open(trail) as people:
        names = {one.person.name for one in people.everyone()}
    assert set(told) <= names
    assert len(told) >= 20


def test_a_made_up_secret_opens_nothing(people: People) -> None:
    device(people, "Wren", Role.KEEPER, now=NOW)
    assert people.key(digest(new_token())) is None
    with pytest.raises(NotKnown, match="still holds"):
        people.exchange(new_token(), device="d", label="x", now=NOW)
