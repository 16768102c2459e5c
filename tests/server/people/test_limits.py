"""How often: turns are used up, come back with time, and are forgotten in the end."""

from __future__ import annotations

import pytest

from server.web.authentication.limits import Buckets, network_of


def test_turns_are_used_up_and_come_back() -> None:
    turns = Buckets(at_once=3, per_minute=60)
    assert [turns.take("a", now_s=0) for _ in range(3)] == [0, 0, 0]
    assert turns.take("a", now_s=0.25) == pytest.approx(0.75)
    assert turns.take("a", now_s=1) == 0
    assert turns.take("a", now_s=1) == pytest.approx(1)


def test_a_bucket_never_holds_more_than_it_can() -> None:
    turns = Buckets(at_once=2, per_minute=60)
    assert [turns.take("a", now_s=now) for now in (0, 1000, 1000)] == [0, 0, 0]
    assert turns.take("a", now_s=1000) > 0


def test_one_who_requests_too_much_keeps_no_one_else_waiting() -> None:
    turns = Buckets(at_once=1, per_minute=1)
    turns.take("a", now_s=0)
    assert turns.take("a", now_s=0) > 0
    assert turns.take("b", now_s=0) == 0


def test_no_more_buckets_are_remembered_than_there_is_room_for() -> None:
    turns = Buckets(at_once=1, per_minute=1, most=100)
    for number in range(1000):
        turns.take(number, now_s=0)
    assert len(turns) == 100
    assert turns.take(999, now_s=0) > 0


@pytest.mark.parametrize(
    ("address", "network"),
    [
        ("192.0.2.7", "192.0.2.7"),
        ("2001:db8:1:2:3:4:5:6", "2001:db8:1:2::/64"),
        ("2001:db8:1:2::9", "2001:db8:1:2::/64"),
        ("testclient", "testclient"),
    ],
)
def test_all_of_one_ipv6_network_counts_as_one(address: str, network: str) -> None:
    assert network_of(address) == network
