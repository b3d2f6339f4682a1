"""What a door's calls have left, kept so that a call on it opens without reading the old ones again.

One row for each door: what its ended calls leave and hand on, up to one of them. It is made from the events where it is
missing, behind, or of other trees, and says nothing that is not in them.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from typing import NamedTuple

import msgspec

from diagnose.calls.events import Then
from diagnose.calls.state import fold
from diagnose.calls.store import Store, StoreError, folded_text
from diagnose.calls.then_and_now import as_left
from diagnose.calls.trends import Carried, carried_on
from diagnose.knowledge.model import Trees

# How many calls back a door's memory goes where it is made anew, and how many readings of a check it keeps.
MOST_CALLS = 40


class Memory(msgspec.Struct, frozen=True):
    """What was read when the door was right, each check's line, and values that others are worked out from."""

    then: dict[str, Then] = {}
    lines: dict[str, tuple[Then, ...]] = {}
    values: dict[str, tuple[float, float]] = {}


class _Call(NamedTuple):
    """A call on the door: its id, its last event, and whether it ended."""

    id: str
    sequence: int
    ended: bool


class Memories(Store):
    """A store's memory of its doors. Made of an open store with ``Memories.of``."""

    def of_door(self, trees: Trees, door_id: str, site: str, name: str, without: str = "") -> Memory:
        """What the calls on a door leave, but for the call ``without``. Raises ``StoreError``."""
        calls = [call for call in self._calls(site, name) if call.id != without]
        marks = _marks(calls)
        kept, memory = self._kept(trees, door_id, marks)
        ended = next((number for number, call in enumerate(calls) if not call.ended), len(calls))
        if kept < ended:
            # Where nothing is kept, the latest calls are gone through.
            memory = self._further(trees, memory, calls[max(kept, ended - MOST_CALLS) : ended])
            self._keep(trees, door_id, marks[ended], memory)
        return self._further(trees, memory, calls[max(ended, kept) :][-MOST_CALLS:])

    def _calls(self, site: str, name: str) -> list[_Call]:
        """The calls on a door that can be read, the oldest first."""
        self._catch_up(None)
        query = (
            "SELECT call_id, sequence, outcome FROM summary WHERE TRIM(site_folded) = :site "
            "AND TRIM(door_folded) = :door AND trouble = '' ORDER BY opened_at, call_id"
        )
        folds = {"site": folded_text(site.strip()), "door": folded_text(name.strip())}
        return [_Call(call, last, outcome is not None) for call, last, outcome in self._rows(query, folds)]

    def _kept(self, trees: Trees, door_id: str, marks: Sequence[str]) -> tuple[int, Memory]:
        """How many of the calls are in what is kept, and that; 0 and nothing where it is of others."""
        query = "SELECT calls, body FROM door_memory WHERE door_id = :door AND digest = :digest"
        with self._reading() as connection:
            row = connection.execute(query, {"door": door_id, "digest": trees.digest}).first()
        if row is None or row[0] not in marks:
            return 0, Memory()
        try:
            return marks.index(row[0]), msgspec.json.decode(row[1], type=Memory)
        except msgspec.MsgspecError:
            return 0, Memory()

    def _further(self, trees: Trees, memory: Memory, calls: Sequence[_Call]) -> Memory:
        if not calls:
            return memory
        states = [fold(events) for events in self.events_of([call.id for call in calls])]
        carried = carried_on(trees, states, Carried(memory.lines, memory.values))
        lines = {name: tuple(line[-MOST_CALLS:]) for name, line in carried.lines.items()}
        return Memory(as_left(trees, states, memory.then), lines, dict(carried.values))

    def _keep(self, trees: Trees, door_id: str, mark: str, memory: Memory) -> None:
        body = msgspec.json.encode(memory).decode()
        row = {"door_id": door_id, "digest": trees.digest, "calls": mark, "body": body}
        try:
            with self._writing() as connection:
                connection.execute("DELETE FROM door_memory WHERE door_id = :door_id", row)
                connection.insert("door_memory", row)
        except StoreError:
            # It is made again at the next opening.
            return


def _marks(calls: Sequence[_Call]) -> list[str]:
    """A mark of no call, of the first, of the first two, and so on: each of which calls they are, and as of when."""
    so_far = hashlib.sha256()
    marks = [so_far.hexdigest()]
    for call in calls:
        so_far.update(f"{call.id} {call.sequence}\n".encode())
        marks.append(so_far.hexdigest())
    return marks
