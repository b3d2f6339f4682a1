"""A call as one file, safe to mail, and what becomes of it where a copy of the same call is already.

Two copies of a call that went different ways have one beginning. Merged, the events of the copy that are not here are
added after those that are: nothing here is renumbered or lost. Where both have since said something of the same
subject, what was said here stands; the other's word is in the history, undone, and is named as a difference.

People can be hurt where two did not know of each other, so three things go before that: a sign of danger and a failed
proof stand whoever said so; what was judged or proved without knowing of a repair made here is not counted; and a call
that one has closed while the other went on is open again, to be looked over.
"""

from __future__ import annotations

import hashlib
import re
from collections import defaultdict, deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, Literal

import msgspec

from diagnose.calls import events as ev
from diagnose.calls.nameless import nameless
from diagnose.calls.state import fold, standing
from diagnose.calls.store import Store, StoreError, decode, encode

_FORM = 1
_LOOK_OVER = "Two went on with this call, each without the other's entries: look it over before it is closed."
_MOST_EVENTS = 20_000
_MOST_CHARACTERS = 20_000_000
_ID = re.compile(r"[0-9a-z][0-9a-z-]{3,39}")


class ExchangeError(ValueError):
    """The file is no call, or a damaged one; ``str`` says which and what to do."""


@dataclass(frozen=True)
class Copy:
    """A call as a file brings it."""

    id: str
    events: tuple[ev.AnyEvent, ...]


@dataclass(frozen=True)
class Difference:
    """What both copies have said of one subject since they parted; ``here`` is what was said first in this copy.

    It stands, unless ``there`` warns of something.
    """

    here: ev.AnyEvent
    there: ev.AnyEvent

    @property
    def in_order(self) -> tuple[ev.AnyEvent, ev.AnyEvent]:
        """What stands, then the other."""
        return (self.there, self.here) if _warns(self.there) else (self.here, self.there)


@dataclass(frozen=True)
class Arrival:
    """What came of an import. ``added`` counts events; ``differences`` is empty unless ``merged``."""

    call_id: str
    kind: Literal["new", "nothing new", "continued", "merged"]
    added: int
    differences: tuple[Difference, ...] = ()


def export_call(store: Store, call_id: str, without_names: bool = False) -> str:
    """The whole call as the text of one file, or all of it but who and where. Raises ``StoreError``."""
    events: Sequence[ev.AnyEvent] = store.events(call_id)
    if without_names:
        call_id, events = nameless(events)
    bodies = [encode(event) for event in events]
    checksum = _checksum([msgspec.json.decode(body) for body in bodies])
    head = f'{{"diagnose call": {_FORM}, "id": "{call_id}", "sha256": "{checksum}", "events": [\n'
    return head + ",\n".join(bodies) + "\n]}\n"


def read_copy(text: str) -> Copy:
    """The call that a file holds. Raises ``ExchangeError``; nothing in the file is trusted."""
    if len(text) > _MOST_CHARACTERS:
        raise ExchangeError("This file is too long to be a call.")
    try:
        written = msgspec.json.decode(text, type=dict[str, Any])
    except (msgspec.MsgspecError, RecursionError, UnicodeEncodeError):
        raise ExchangeError("This file is no call: export one with 'diagnose log CALL --export FILE'.") from None
    if "diagnose call" not in written:
        raise ExchangeError("This file is no call: export one with 'diagnose log CALL --export FILE'.")
    if written["diagnose call"] != _FORM:
        raise ExchangeError("This call was exported by a newer version of this program. Update the program.")
    identity, bodies = written.get("id"), written.get("events")
    if not isinstance(identity, str) or not _ID.fullmatch(identity):
        raise ExchangeError("The call in this file has no proper id. Export it again.")
    if not isinstance(bodies, list) or not 1 <= len(bodies) <= _MOST_EVENTS:
        raise ExchangeError("The call in this file has no events. Export it again.")
    if written.get("sha256", "") not in ("", _checksum(bodies)):
        raise ExchangeError("This file was changed on its way: its checksum does not fit. Export and send it again.")
    events = tuple(_event(body, number) for number, body in enumerate(bodies, start=1))
    if not isinstance(events[0], ev.Opened):
        raise ExchangeError("The call in this file does not begin with its opening. Export it again.")
    return Copy(identity, events)


def _checksum(bodies: list[Any]) -> str:
    """SHA-256 over the events themselves: line breaks and spaces that mail changes do not count."""
    return hashlib.sha256(msgspec.json.encode(bodies, order="sorted")).hexdigest()


def import_call(store: Store, copy: Copy, by: str = "") -> Arrival:
    """Bring a copy into the store: as a new call, or what of it the call here does not have yet.

    ``by`` is who imports it. Raises ``StoreError``, and then nothing was added.
    """
    if not store.count(copy.id):
        store.claim(copy.id)
        store.append(copy.id, *copy.events)
        return Arrival(copy.id, "new", len(copy.events))
    own = store.events(copy.id)
    if own[0] != copy.events[0]:
        raise StoreError(f"Another call is called {copy.id} here. Import this one into another store.")
    added, kind, differences = merge(own, copy.events, by)
    if added:
        store.append(copy.id, *added)
    return Arrival(copy.id, kind, len(added), differences)


def merge(
    own: Sequence[ev.AnyEvent], other: Sequence[ev.AnyEvent], by: str = "", now: Callable[[], datetime] | None = None
) -> tuple[list[ev.AnyEvent], Literal["nothing new", "continued", "merged"], tuple[Difference, ...]]:
    """The events to append to ``own`` so that it holds all of ``other``, and where the two differ.

    Merging the same copy again adds nothing, and a copy that has merged ours already is taken as it is.
    """
    numbers = _already_here(own, other)
    if len(numbers) == len(other):
        return [], "nothing new", ()
    parted = {event.sequence for event in own} - set(numbers.values())
    only_here = [event for event in standing(own) if event.sequence in parted]
    said_here = {_subject(event): event for event in only_here}
    repaired = _repairs_unknown_there(own, numbers)
    stands_there = {event.sequence for event in standing(other)}
    at = (now or (lambda: datetime.now(UTC)))().isoformat(timespec="seconds")
    added: list[ev.AnyEvent] = []
    differences: list[Difference] = []
    went_on = False
    for event in other:
        if event.sequence in numbers:
            continue
        number = own[-1].sequence + len(added) + 1
        numbers[event.sequence] = number
        copied = msgspec.structs.replace(event, sequence=number)
        if isinstance(copied, ev.Undone):
            copied = msgspec.structs.replace(copied, undoes=numbers[copied.undoes])
        added.append(copied)
        if event.sequence not in stands_there:
            continue
        against = _stands_against(event, said_here, repaired)
        if against is None:
            went_on = went_on or not isinstance(event, ev.Noted)
            continue
        differs = _content(event) != _content(against)
        if not (differs and _warns(event)):
            added.append(ev.Undone(sequence=number + 1, at=at, by=by, undoes=number))
        if differs:
            differences.append(Difference(against, event))
    both = any(not isinstance(event, ev.Noted) for event in only_here) and (went_on or bool(differences))
    if both and fold([*own, *added]).outcome is not None:
        added.append(ev.Reopened(sequence=own[-1].sequence + len(added) + 1, at=at, by=by, reason=_LOOK_OVER))
    return added, "merged" if parted else "continued", tuple(differences)


def _repairs_unknown_there(own: Sequence[ev.AnyEvent], numbers: dict[int, int]) -> dict[int, ev.AnyEvent]:
    """Each repair here with the number that it has in the other copy, or one after all of them."""
    there = {here: number for number, here in numbers.items()}
    return {
        there.get(event.sequence, -event.sequence): event
        for event in standing(own)
        if isinstance(event, ev.Tried | ev.RepairDone | ev.JobDone)
    }


def _stands_against(
    event: ev.AnyEvent, said_here: dict[tuple[str, ...] | None, ev.AnyEvent], repaired: dict[int, ev.AnyEvent]
) -> ev.AnyEvent | None:
    """What was said or done here that the other copy's event did not know of, and that bears on it."""
    if isinstance(event, ev.Judged) or (isinstance(event, ev.Proved) and event.passed):
        for number, repair in repaired.items():
            if number < 0 or number > event.sequence:
                return repair
    subject = _subject(event)
    return None if subject is None else said_here.get(subject)


def _warns(event: ev.AnyEvent) -> bool:
    """A word that must not be overruled by one who did not know of it."""
    match event:
        case ev.Proved():
            return not event.passed
        case ev.DangerStated():
            return event.answer == "yes"
        case _:
            return False


def _already_here(own: Sequence[ev.AnyEvent], other: Sequence[ev.AnyEvent]) -> dict[int, int]:
    """For each event of the other copy that is here too, its number there and here."""
    here: dict[tuple[object, ...], deque[int]] = defaultdict(deque)
    for event in own:
        here[_mark(event)].append(event.sequence)
    return {event.sequence: found.popleft() for event in other if (found := here.get(_mark(event)))}


def _mark(event: ev.AnyEvent) -> tuple[object, ...]:
    """What an event is known by in any copy: all of it but its numbers."""
    return (event.at, event.by, *_content(event))


def _content(event: ev.AnyEvent) -> tuple[object, ...]:
    left_out = {"sequence", "at", "by", "digest", "undoes"}
    fields = [name for name in event.__struct_fields__ if name not in left_out]
    return (type(event), *(repr(getattr(event, name)) for name in fields))


def _subject(event: ev.AnyEvent) -> tuple[str, ...] | None:
    """What an event is about, where a later word on it takes an earlier one's place; ``None`` where words add up."""
    match event:
        case ev.Answered() | ev.Withdrawn():
            return ("check", event.check)
        case ev.FactStated():
            return ("fact", event.fact)
        case ev.Proved():
            return ("proof", event.proof)
        case ev.DangerStated():
            return ("danger", event.danger)
        case ev.PutOff() | ev.TakenUp():
            return ("put off", event.kind, event.step)
        case ev.SymptomsStated() | ev.PeopleStated() | ev.EnergyEntered():
            return (type(event).__name__,)
        case ev.Closed() | ev.Reopened():
            return ("outcome",)
        case _:
            return None


def _event(body: Any, number: int) -> ev.AnyEvent:
    try:
        event = decode(body) if isinstance(body, dict) else None
    except msgspec.MsgspecError:
        event = None
    if event is None:
        raise ExchangeError(f"Event {number} of this file cannot be read: it is damaged, or of a newer program.")
    sound = event.sequence == number and not (isinstance(event, ev.Undone) and not 1 < event.undoes < number)
    try:
        datetime.fromisoformat(event.at)
    except ValueError:
        sound = False
    if not sound:
        raise ExchangeError(f"Event {number} of this file does not fit those before it. Export the call again.")
    return event
