"""Doors as records: what is known of a door between its calls, so that a call on it need not ask again.

A door is found by where it is and what it is called there. What is known of it is never overwritten: each change is a
revision with its day and who made it, and the latest counts. A pass-phrase is never taken.
"""

from __future__ import annotations

import re
import secrets
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any, TypeVar

import msgspec
from msgspec.structs import replace

from diagnose.calls.database import Connection, like
from diagnose.calls.differences import drop_differences
from diagnose.calls.events import Then
from diagnose.calls.memory import MOST_CALLS, Memories
from diagnose.calls.state import CallState, fold
from diagnose.calls.store import ID_LETTERS, CallSummary, Store, StoreError, Taken, folded_text
from diagnose.calls.trends import Lines
from diagnose.calls.verdict import leading_cause
from diagnose.knowledge.fitting import fitting, laid_over, misfits
from diagnose.knowledge.model import Trees
from diagnose.knowledge.words import local_day

if TYPE_CHECKING:
    from diagnose.calls.call import Call

_Value = TypeVar("_Value")
Facts = dict[str, str | tuple[str, ...]]
# As many as a list of finds shows.
MOST_FOUND = 50
_MOST_CHARACTERS = 2_000
_REVISIONS = 'SELECT door_id, number, "at", "by", body FROM door_revision WHERE door_id = :id'
_REPLACED = (
    'door_revision WHERE "at" < :before AND EXISTS (SELECT * FROM door_revision AS later '
    "WHERE later.door_id = door_revision.door_id AND later.number > door_revision.number)"
)


class DoorError(ValueError):
    """A door cannot be kept so; ``str`` says why and what to do."""


class DoorRecord(msgspec.Struct, frozen=True, kw_only=True):
    """What is known of a door.

    ``facts`` are the trees' own. ``data`` are figures by a name of one's choice, such as size, weight, springs or
    supply run, as they were typed, and ``network`` what a module needs of the site's. ``photographs`` are paths.
    ``past`` counts the calls that are kept no more, by how they ended, and ``past_causes`` by what was wrong.
    """

    site: str = ""
    name: str = ""
    facts: dict[str, str | tuple[str, ...]] = {}
    data: dict[str, str] = {}
    network: dict[str, str] = {}
    photographs: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    past: dict[str, int] = {}
    past_causes: dict[str, int] = {}


@dataclass(frozen=True)
class Revision:
    """A door as it was known from ``at`` on (ISO 8601 in UTC), which is its ``number``-th record; counted from 1."""

    door_id: str
    number: int
    at: str
    by: str
    record: DoorRecord


@dataclass(frozen=True)
class DoorFound:
    """A door in a list."""

    id: str
    site: str
    name: str
    updated_at: str


def changed(
    record: DoorRecord,
    *,
    facts: Mapping[str, str | tuple[str, ...]] | None = None,
    data: Mapping[str, str] | None = None,
    network: Mapping[str, str] | None = None,
    photographs: Iterable[str] = (),
    notes: Iterable[str] = (),
) -> DoorRecord:
    """A record with more known of the door; a fact or figure that is given as ``""`` is forgotten."""
    return replace(
        record,
        facts=_merged(record.facts, facts or {}),
        data=_merged(record.data, data or {}),
        network=_merged(record.network, network or {}),
        photographs=tuple(dict.fromkeys((*record.photographs, *photographs))),
        notes=(*record.notes, *notes),
    )


def record_of(state: CallState, known: DoorRecord | None = None) -> DoorRecord:
    """What a call says of its door, over what was known of it before. Raises ``DoorError`` for a call without a place.

    What people said about the door in a call stays with the call: of it, its facts alone are the door's.
    """
    if not (state.site.strip() or state.door.strip()):
        raise DoorError("This call does not say which door it is on. Say its site and door first.")
    return changed(known or DoorRecord(site=state.site, name=state.door), facts=state.facts)


def facts_known(trees: Trees, record: DoorRecord) -> Facts:
    """The facts of a record that these trees know, with the answers that they know, as far as they go together."""
    known: Facts = {}
    for name, value in record.facts.items():
        fact = trees.facts.get(name)
        values = (value,) if isinstance(value, str) else value
        if fact is not None and all(each in fact.answers for each in values):
            known[name] = value
    return fitting(trees.facts, known)


def left_out(trees: Trees, record: DoorRecord) -> list[str]:
    """What a record says of its door that does not go together, a sentence each."""
    return [wrong for _, wrong, _ in misfits(trees.facts, record.facts)]


def without_names(record: DoorRecord) -> DoorRecord:
    """A record that may be shown to others: its facts and figures alone.

    Notes and paths are left out whole, for nobody can say what names stand in them.
    """
    return DoorRecord(facts=record.facts, data=record.data, past=record.past, past_causes=record.past_causes)


def checked(record: DoorRecord) -> DoorRecord:
    """The record, its texts without blanks around them. Raises ``DoorError`` for one that cannot be kept."""
    record = replace(
        record,
        site=record.site.strip(),
        name=record.name.strip(),
        data={name.strip(): value.strip() for name, value in record.data.items()},
        network={name.strip(): value.strip() for name, value in record.network.items()},
        photographs=tuple(each.strip() for each in record.photographs if each.strip()),
        notes=tuple(each.strip() for each in record.notes if each.strip()),
    )
    if not (record.site or record.name):
        raise DoorError("A door is found by its site and its name. Give one of them at least.")
    named = [*record.data.items(), *record.network.items()]
    for name, value in named:
        if not name:
            raise DoorError(f"'{value}' has no name. Write what it is, as in: weight=450 lb.")
        if _SECRET_NAME.search(name) or _SECRET_SAID.search(value):
            raise DoorError(_NO_SECRET.format(name))
    for text in (record.site, record.name, *record.notes, *record.photographs):
        if _SECRET_SAID.search(text):
            raise DoorError(_NO_SECRET.format(_short(text)))
    for text in (
        record.site,
        record.name,
        *record.notes,
        *record.photographs,
        *(part for pair in named for part in pair),
    ):
        if len(text) > _MOST_CHARACTERS:
            raise DoorError(f"'{_short(text)}' is longer than {_MOST_CHARACTERS} characters. Keep it shorter.")
        try:
            text.encode()
        except UnicodeEncodeError:
            raise DoorError("This text holds characters that cannot be written down. Type it again.") from None
    return record


_PASS = r"pass(?:[\s_-]*(?:phrase|word|code|wd|key))s?\b|\bpasswd\b|\bpsk\b|pre-?shared"
# A figure called a key is a secret; a key switch is a device.
_SECRET_NAME = re.compile(rf"{_PASS}|(?:^|[\s_-])(?:keys?|secret|pin)$", re.IGNORECASE)
_SECRET_SAID = re.compile(rf"{_PASS}|\b(?:key|secret|pin)\s*(?:[:=]|is\b)", re.IGNORECASE)
_NO_SECRET = "'{}' looks like a pass-phrase or a key. None is ever kept here: the site's own people keep and type it."


def _short(text: str) -> str:
    return text if len(text) <= 40 else f"{text[:39]}…"


def _merged(before: Mapping[str, _Value], now: Mapping[str, _Value]) -> dict[str, _Value]:
    return {name: value for name, value in {**before, **now}.items() if value != ""}


class Doors(Store):
    """A store's doors. Made of an open store with ``Doors.of``; closing it is the store's business.

    Every method raises ``StoreError`` where the store cannot be read or written.
    """

    def keep(self, record: DoorRecord, by: str = "", door_id: str = "") -> Revision:
        """Write a record as the latest of its door; without an id the door is the one of that site and name.

        Nothing is written where the door's latest record says the same. Raises ``DoorError`` for a record that cannot
        be kept, or where another door has its site and name.
        """
        record = checked(record)
        try:
            return self._keep(record, by, door_id)
        except Taken:
            raise StoreError(
                "Another program has just kept this door. Look at what it kept, and say it again."
            ) from None

    def keep_from(self, state: CallState, by: str = "") -> Revision:
        """Write what a call says of its door, beside what was known of it. Raises as ``keep`` and ``record_of`` do."""
        known = self.known(state.site, state.door)
        record = record_of(state, known.record if known else None)
        return self.keep(record, by, known.door_id if known else "")

    def _keep(self, record: DoorRecord, by: str, door_id: str) -> Revision:
        at = datetime.now(UTC).isoformat(timespec="seconds")
        with self._writing() as connection:
            there = id_of(connection, record.site, record.name)
            if door_id and there not in (None, door_id):
                raise DoorError(f"Door {there} is called so already. Give this one another name.")
            identity = door_id or there or self._free_id(connection)
            last = self._latest(connection, identity)
            if last is not None and last.record == record:
                return last
            put_name(connection, identity, record, at)
            revision = Revision(identity, last.number + 1 if last else 1, at, by, record)
            row = {"door_id": identity, "number": revision.number, "at": at, "by": by}
            connection.insert("door_revision", {**row, "body": msgspec.json.encode(record).decode()})
        return revision

    def known(self, site: str, name: str) -> Revision | None:
        """What is known of the door of that site and name, in whatever case they are typed; ``None`` if nothing is."""
        site, name = site.strip(), name.strip()
        if not (site or name):
            return None
        with self._reading() as connection:
            identity = id_of(connection, site, name)
            return None if identity is None else self._latest(connection, identity)

    def latest(self, door_id: str) -> Revision:
        """What is known of a door. Raises ``StoreError`` for an unknown one."""
        with self._reading() as connection:
            revision = self._latest(connection, door_id)
        if revision is None:
            raise StoreError(f"There is no door '{door_id}' in {self.where}. 'diagnose door list' lists them.")
        return revision

    def revisions(self, door_id: str) -> list[Revision]:
        """Every record of a door, the first one first."""
        with self._reading() as connection:
            rows = connection.execute(f"{_REVISIONS} ORDER BY number", {"id": door_id})
            return [_as_revision(row, self.where) for row in rows]

    def search(self, text: str = "", most: int = MOST_FOUND) -> list[DoorFound]:
        """Doors whose site or name has every word of ``text`` in it, by site and name."""
        words = {f"word{number}": like(word) for number, word in enumerate(folded_text(text).split())}
        where = " AND ".join(
            f"(site_folded LIKE :{each} ESCAPE '/' OR name_folded LIKE :{each} ESCAPE '/')" for each in words
        )
        query = (
            f"SELECT id, site, name, updated_at FROM door WHERE {where or '1 = 1'} "
            f"ORDER BY site_folded, name_folded LIMIT {most}"
        )
        return [DoorFound(*row) for row in self._rows(query, words)]

    def one(self, text: str) -> Revision:
        """The one door that is meant: by its id, or by letters of its site and name. Raises ``StoreError``."""
        with self._reading() as connection:
            by_id = self._latest(connection, text.strip())
        if by_id is not None:
            return by_id
        found = self.search(text, 7)
        exact = [
            door for door in found if folded_text(text.strip()) in (folded_text(door.name), _place(door).casefold())
        ]
        if len(found) == 1 or len(exact) == 1:
            return self.latest((exact or found)[0].id)
        if found:
            shown = "; ".join(f"{_place(door)} ({door.id})" for door in found[:6])
            raise StoreError(f"'{text}' could be any of: {shown}. Type more of it, or its id.")
        raise StoreError(f"No door is kept in {self.where} whose site or name has '{text}' in it.")

    def calls_at(self, site: str, name: str) -> list[CallSummary]:
        """The calls on the door of that site and name, the latest first."""
        wanted = (folded_text(site.strip()), folded_text(name.strip()))
        calls = self.calls(site=site.strip(), door=name.strip())
        return [each for each in calls if (folded_text(each.site.strip()), folded_text(each.door.strip())) == wanted]

    def histories(self, site: str, name: str) -> list[CallState]:
        """The latest calls on a door, the oldest first; those that cannot be read are left out."""
        calls = [call for call in self.calls_at(site, name) if not call.trouble][:MOST_CALLS]
        return [fold(events) for events in self.events_of([call.id for call in reversed(calls)])]

    def replaced(self, before: str) -> int:
        """How many records made before a moment (ISO 8601 in UTC) have a later one of their door."""
        return int(self._values(f"SELECT COUNT(*) FROM {_REPLACED}", {"before": before})[0])

    def drop_replaced(self, before: str) -> None:
        """Take those records out for good."""
        with self._writing() as connection:
            connection.execute(f"DELETE FROM {_REPLACED}", {"before": before})

    def _latest(self, connection: Connection, door_id: str) -> Revision | None:
        row = connection.execute(f"{_REVISIONS} ORDER BY number DESC LIMIT 1", {"id": door_id}).first()
        return None if row is None else _as_revision(row, self.where)

    def _free_id(self, connection: Connection) -> str:
        while True:
            identity = f"door-{''.join(secrets.choice(ID_LETTERS) for _ in range(6))}"
            if connection.execute("SELECT id FROM door WHERE id = :id", {"id": identity}).first() is None:
                return identity


def _place(door: DoorFound) -> str:
    return ", ".join(filter(None, (door.site, door.name)))


def id_of(connection: Connection, site: str, name: str) -> str | None:
    """The door that has this site and name, in whatever case they are written."""
    query = "SELECT id FROM door WHERE site_folded = :site AND name_folded = :name"
    found: str | None = connection.execute(query, {"site": folded_text(site), "name": folded_text(name)}).scalar()
    return found


def put_name(connection: Connection, door_id: str, record: DoorRecord, at: str) -> None:
    """Have a door stand under a record's site and name; it is made where it is not there."""
    folds = {"site_folded": folded_text(record.site), "name_folded": folded_text(record.name)}
    row = {"id": door_id, "site": record.site, "name": record.name, **folds, "updated_at": at}
    told = ", ".join(f"{name} = :{name}" for name in row)
    if not connection.execute(f"UPDATE door SET {told} WHERE id = :id", row).rowcount:
        connection.insert("door", row)


def _as_revision(row: tuple[Any, ...], where: str) -> Revision:
    door_id, number, at, by, body = row
    try:
        record = msgspec.json.decode(body, type=DoorRecord)
    except msgspec.MsgspecError:
        raise StoreError(f"The record of door {door_id} in {where} is damaged. Restore a backup.") from None
    return Revision(door_id, number, at, by, record)


@dataclass(frozen=True)
class Known:
    """What a call on a door starts with, and the sentence that says so; nothing where the door is not known."""

    facts: Facts = field(default_factory=dict)
    readings: dict[str, Then] = field(default_factory=dict)
    lines: Lines = field(default_factory=dict)
    sentence: str = ""


def known_at(store: Store, trees: Trees, site: str, door: str, without: str = "") -> Known:
    """What is known of the door of that site and name before a call on it begins: its facts, and what it read.

    ``without`` is a call that does not count: the one that asks.
    """
    doors = Doors.of(store)
    revision = doors.known(site, door)
    if revision is None:
        return Known()
    sentence = f"This door is known: its facts are those of {local_day(revision.at)}."
    if wrong := left_out(trees, revision.record):
        sentence += f" Left out, for they do not go together: {' '.join(wrong)}"
    memory = Memories.of(store).of_door(trees, revision.door_id, site, door, without)
    return Known(facts_known(trees, revision.record), memory.then, memory.lines, sentence)


def recall(store: Store, call: Call, call_id: str) -> str:
    """Put what is known of its door beside a call that began without it, once; gives back a sentence, or nothing.

    So a call that was begun on the phone has the door's memory where it is taken up, and one whose place is said late.
    """
    state = call.state
    if state.then or state.lines or state.outcome is not None or not (state.site.strip() or state.door.strip()):
        return ""
    known = known_at(store, call.trees, state.site, state.door, call_id)
    both = laid_over(call.trees.facts, known.facts, state.facts)
    stated = {fact: value for fact, value in both.items() if fact not in state.facts}
    for fact, value in stated.items():
        call.state_fact(fact, value)
    call.recall(known.readings, known.lines)
    return known.sentence if stated or known.readings or known.lines else ""


@dataclass(frozen=True)
class Forgetting:
    """What goes: calls that ended, and records of doors that later ones took the place of; and open calls that stay."""

    calls: tuple[CallSummary, ...]
    records: int
    still_open: int


def to_forget(store: Store, trees: Trees, before: datetime) -> Forgetting:
    """What is older than a moment: ended calls by their last entry, and records of doors that count no more."""
    last = before.astimezone(UTC).isoformat(timespec="seconds")
    old = [call for call in store.calls(leading=leading_cause(trees)) if call.last_at < last]
    ended = tuple(call for call in old if call.outcome is not None)
    return Forgetting(ended, Doors.of(store).replaced(last), len(old) - len(ended))


def forget(store: Store, forgetting: Forgetting, before: datetime) -> None:
    """Take it out for good; a door that is kept keeps how many calls it had, how they ended and what was wrong."""
    doors = Doors.of(store)
    by_door: dict[str, list[CallSummary]] = {}
    for call in forgetting.calls:
        if revision := doors.known(call.site, call.door):
            by_door.setdefault(revision.door_id, []).append(call)
    for door_id, calls in by_door.items():
        record = doors.latest(door_id).record
        ends = Counter({**record.past}) + Counter(call.outcome or "" for call in calls)
        causes = Counter({**record.past_causes}) + Counter(call.likely_cause for call in calls if call.likely_cause)
        doors.keep(replace(record, past=dict(ends), past_causes=dict(causes)), door_id=door_id)
    doors.drop_replaced(before.astimezone(UTC).isoformat(timespec="seconds"))
    ids = [call.id for call in forgetting.calls]
    with store._writing() as connection:
        drop_differences(connection, ids)
        # What was read in them goes with them.
        connection.execute("DELETE FROM door_memory")
    store.forget(ids)
