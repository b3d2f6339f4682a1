"""A door's memory says what its calls say, and no old call is read again for it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from diagnose.calls.call import Call
from diagnose.calls.doors import DoorRecord, Doors, forget, known_at, to_forget
from diagnose.calls.events import AnyEvent
from diagnose.calls.state import fold
from diagnose.calls.store import Store
from diagnose.calls.then_and_now import as_left
from diagnose.calls.trends import lines_of
from diagnose.knowledge.model import Trees
from tests.doors import TROLLEY_DOOR

SITE, DOOR = "Alder Works", "Dock 3"
_FIRST = datetime(2020, 3, 1, 9, tzinfo=UTC)


def visit(store: Store, trees: Trees, number: int, ends: bool = True, mends: str = "") -> str:
    """A call on the door in its ``number``-th quarter; its id."""
    at = _FIRST + timedelta(days=91 * number)
    identity = store.begin(at.date())
    call = Call(
        trees,
        TROLLEY_DOOR,
        ["chain-slaps"],
        site=SITE,
        door=DOOR,
        people=list(trees.people),
        clock=lambda: at,
        recorder=store.recorder(identity),
    )
    if mends:
        call.tried(mends, True)
    call.answer("chain-span", "12 ft")
    call.answer("chain-sag", f"{1 + 0.2 * number:.1f} in")
    call.answer("motor-current", "5.1 A")
    if ends:
        call.close("left out of service", "Waits for a part.")
    return identity


def gone_through(store: Store, trees: Trees) -> tuple[object, object]:
    """The memory as the events alone give it."""
    states = Doors.of(store).histories(SITE, DOOR)
    return as_left(trees, states), lines_of(trees, states)


def known(store: Store, trees: Trees) -> tuple[object, object]:
    found = known_at(store, trees, SITE, DOOR)
    return found.readings, found.lines


@pytest.fixture
def store(tmp_path: Path) -> Store:
    store = Store.open(tmp_path / "calls.sqlite3")
    Doors.of(store).keep(DoorRecord(site=SITE, name=DOOR, facts=TROLLEY_DOOR))
    return store


def test_it_is_what_the_events_say_after_every_call(store: Store, shipped_trees: Trees) -> None:
    for number in range(6):
        visit(store, shipped_trees, number, mends="tension-chain" if number == 3 else "")
        assert known(store, shipped_trees) == gone_through(store, shipped_trees)
    lines = known_at(store, shipped_trees, SITE, DOOR).lines
    # The chain was set again at the fourth visit; what it moves is worked out from an earlier span.
    assert len(lines["chain-sag"]) == len(lines["chain-movement-percent"]) == 3 and len(lines["motor-current"]) == 6


def test_an_open_call_and_one_that_goes_on_count_as_they_stand(store: Store, shipped_trees: Trees) -> None:
    visit(store, shipped_trees, 0)
    waits = visit(store, shipped_trees, 1, ends=False)
    visit(store, shipped_trees, 2)
    assert known(store, shipped_trees) == gone_through(store, shipped_trees)
    call = Call(shipped_trees, history=store.events(waits), recorder=store.recorder(waits))
    call.answer("motor-current", "7.9 A", mode="correction")
    assert known(store, shipped_trees) == gone_through(store, shipped_trees)
    call.close("left out of service", "Waits for a part.")
    assert known(store, shipped_trees) == gone_through(store, shipped_trees)
    assert known_at(store, shipped_trees, SITE, DOOR, without=waits).lines["motor-current"][-1].values == (5.1,)


def test_no_old_call_is_read_again(store: Store, shipped_trees: Trees, monkeypatch: pytest.MonkeyPatch) -> None:
    for number in range(4):
        visit(store, shipped_trees, number)
    first = known(store, shipped_trees)
    read: list[str] = []
    whole = Store.events_of

    def counted(self: Store, call_ids: Sequence[str]) -> list[list[AnyEvent]]:
        read.extend(call_ids)
        return whole(self, call_ids)

    monkeypatch.setattr(Store, "events_of", counted)
    assert known(store, shipped_trees) == first and read == []
    last = visit(store, shipped_trees, 4)
    known(store, shipped_trees)
    assert read == [last]


def test_what_is_forgotten_is_forgotten_here_too(store: Store, shipped_trees: Trees) -> None:
    visit(store, shipped_trees, 0)
    later = visit(store, shipped_trees, 8)
    assert len(known_at(store, shipped_trees, SITE, DOOR).lines["motor-current"]) == 2
    before = _FIRST + timedelta(days=300)
    forget(store, to_forget(store, shipped_trees, before), before)
    left = known_at(store, shipped_trees, SITE, DOOR).lines["motor-current"]
    assert [each.at[:10] for each in left] == [fold(store.events(later)).opened_at[:10]]
