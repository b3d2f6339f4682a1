"""Where calls are kept: every event on the disk before it counts, in SQLite or, by URL, in PostgreSQL.

Events are the truth; a call is what they fold to. The table of summaries is there to list and search by, and is made
again from the events whenever it is behind them.
"""

from __future__ import annotations

import math
import secrets
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from typing import Any, Literal, Self, get_args

import msgspec

from diagnose.calls.database import Connection, Database, Values, like, open_database, usual_place
from diagnose.calls.database import Taken as Taken
from diagnose.calls.events import AnyEvent
from diagnose.calls.faults import ConnectionLost
from diagnose.calls.faults import MovedOn as MovedOn
from diagnose.calls.faults import StoreError as StoreError
from diagnose.calls.migrations import Migration, NewerStore, migrate
from diagnose.calls.state import fold
from diagnose.knowledge.problems import did_you_mean

# No letter or figure that is taken for another on a bad line: no 0 o 1 i l, and no vowels to make words of.
ID_LETTERS = "23456789bcdfghjkmnpqrstvwxz"

CallState = Literal["open", "waiting", "closed"]
CALL_STATES: tuple[CallState, ...] = get_args(CallState)
# In which orders calls are listed; those alike in one, the latest first.
CALL_ORDERS = ("latest", "site", "state", "complaint")

# As many calls as one statement takes out.
_AT_ONCE = 500
_SUMMARY = (
    "call_id", "sequence", "opened_at", "last_at", "site", "door", "site_folded", "door_folded", "symptoms", "outcome",
    "likely_cause", "trouble", "waiting",
)  # fmt: skip

# What an event more makes of a call's row: 1 while its summary does not know of its last event, and 1 while what it
# tells is not kept as rows to learn from.
GONE_ON = {"behind": 1, "untold": 1}

Leading = Callable[[list[AnyEvent]], str]


@dataclass(frozen=True)
class CallSummary:
    """A call in a list. Times are ISO 8601 in UTC.

    ``trouble`` says why its events cannot be read, if they cannot; ``waiting`` what an open call waits for, in words.
    """

    id: str
    opened_at: str
    last_at: str
    site: str
    door: str
    symptoms: tuple[str, ...]
    outcome: str | None
    likely_cause: str
    trouble: str = ""
    waiting: str = ""

    @property
    def is_open(self) -> bool:
        return self.outcome is None

    @property
    def state(self) -> CallState:
        """Open calls that wait for something are ``waiting``."""
        if not self.is_open:
            return "closed"
        return "waiting" if self.waiting else "open"


def sorted_calls(calls: Iterable[CallSummary], by: str) -> list[CallSummary]:
    """Calls in an order of ``CALL_ORDERS``; those alike in it, the latest first."""
    latest = sorted(calls, key=lambda call: call.last_at, reverse=True)
    keys: dict[str, Callable[[CallSummary], tuple[str, ...]]] = {
        "site": lambda call: (call.site.casefold(), call.door.casefold()),
        "state": lambda call: (str(CALL_STATES.index(call.state)),),
        "complaint": lambda call: call.symptoms,
    }
    return sorted(latest, key=keys[by]) if by in keys else latest


class Store:
    """Open with ``Store.open``. May be used from several threads; each takes its own connection."""

    def __init__(self, database: Database) -> None:
        self._database = database
        self.where = database.where

    @classmethod
    def of(cls, store: Store) -> Self:
        """The same store, with what this class can do."""
        return cls(store._database)

    @classmethod
    def open(cls, location: str | Path | None = None) -> Store:
        """The store at a path or a URL, made if it is not there and brought to the present shape.

        By default ``$DIAGNOSE_STORE``, else a file in the user's data folder. Raises ``StoreError``.
        """
        store = cls(open_database(usual_place(location)))
        try:
            migrate(store._database)
        except NewerStore:
            store.close()
            raise StoreError(
                f"{store.where} was written by a newer version of this program. Update the program, or give another "
                "store."
            ) from None
        except StoreError:
            store.close()
            raise
        return store

    def _bring(self, migrations: Sequence[Migration], table: str, written: str) -> Self:
        """The tables of a part of the store brought to the present shape; ``written`` begins the sentence that refuses
        one of a newer program. Raises ``StoreError``."""
        try:
            migrate(self._database, migrations, table)
        except NewerStore:
            raise StoreError(f"{written} written by a newer program. Update this one.") from None
        return self

    def close(self) -> None:
        self._database.close()

    # --- writing -------------------------------------------------------------------------------------------

    def begin(self, day: date | None = None) -> str:
        """A new call's id: its day, then four letters that no other call of the day has."""
        prefix = (day or date.today()).isoformat()
        for _ in range(100):
            identity = f"{prefix}-{''.join(secrets.choice(ID_LETTERS) for _ in range(4))}"
            if self.claim(identity):
                return identity
        raise StoreError(f"No free name for a call was found in {self.where}. Try again.")

    def claim(self, call_id: str) -> bool:
        """Take an id for a call that began elsewhere; false where there is such a call here."""
        row = {
            "id": call_id,
            "begun_at": datetime.now(UTC).isoformat(timespec="microseconds"),
            "behind": 0,
            "untold": 0,
        }
        try:
            with self._writing() as connection:
                connection.insert("call", row)
        except Taken:
            return False
        return True

    def append(self, call_id: str, *events: AnyEvent) -> None:
        """Write events, all or none. They are on the disk when this returns.

        Raises ``StoreError``; where another event of that number is there already it is ``MovedOn``, and nothing is
        written. Where the connection breaks off it is tried once more: the same event is never there twice.
        """
        try:
            rows = [{"call_id": call_id, "sequence": each.sequence, "body": encode(each)} for each in events]
        except UnicodeEncodeError:
            raise StoreError("This text holds characters that cannot be written down. Type it again.") from None
        try:
            self._append(call_id, rows)
        except ConnectionLost:
            self._append(call_id, rows)

    def _append(self, call_id: str, rows: list[dict[str, Any]]) -> None:
        try:
            with self._writing() as connection:
                # Who holds the call's row may write; the others wait their turn.
                if not hold(connection, call_id):
                    raise StoreError(f"There is no call '{call_id}' in {self.where}.")
                connection.insert("event", *rows)
        except Taken:
            numbers = [row["sequence"] for row in rows]
            query = "SELECT body FROM event WHERE call_id = :id AND sequence IN :numbers ORDER BY sequence"
            there = self._values(query, {"id": call_id, "numbers": numbers})
            if there != [row["body"] for row in rows]:
                raise MovedOn(call_id, numbers[0], tuple(self.events(call_id))) from None

    def recorder(self, call_id: str) -> Callable[[AnyEvent], None]:
        """What a ``Call`` is given to write its events with."""
        return lambda event: self.append(call_id, event)

    # --- reading -------------------------------------------------------------------------------------------

    def count(self, call_id: str) -> int:
        """How many events a call has; 0 where there is none of that id."""
        return int(self._values("SELECT COUNT(*) FROM event WHERE call_id = :id", {"id": call_id})[0])

    def events(self, call_id: str) -> list[AnyEvent]:
        """A call's events in order.

        Raises ``StoreError`` for an unknown call, and for an event that this program cannot read.
        """
        query = "SELECT body FROM event WHERE call_id = :id ORDER BY sequence"
        bodies = self._values(query, {"id": call_id})
        if not bodies:
            raise StoreError(f"There is no call '{call_id}' in {self.where}. 'diagnose log' lists them.")
        return [_decoded(body, call_id, number) for number, body in enumerate(bodies, start=1)]

    def events_of(self, call_ids: Sequence[str]) -> list[list[AnyEvent]]:
        """The events of a few calls, in one reading. Raises ``StoreError`` for an event that cannot be read."""
        query = "SELECT call_id, body FROM event WHERE call_id IN :ids ORDER BY call_id, sequence"
        bodies: dict[str, list[str]] = {call_id: [] for call_id in call_ids}
        for call_id, body in self._rows(query, {"ids": call_ids}):
            bodies[call_id].append(body)
        return [
            [_decoded(body, call_id, number) for number, body in enumerate(some, start=1)]
            for call_id, some in bodies.items()
        ]

    def find(self, text: str) -> str:
        """The id of the one call whose id begins or ends so; ``last`` is the call last begun. Raises ``StoreError``."""
        begun = "SELECT id FROM call WHERE EXISTS (SELECT * FROM event WHERE call_id = call.id)"
        latest = " ORDER BY begun_at DESC, id DESC LIMIT "
        like_it = f"{begun} AND (id LIKE :begins ESCAPE '/' OR id LIKE :ends ESCAPE '/'){latest}7"
        wanted = text.strip().casefold()
        parts = {"begins": like(wanted, begin=""), "ends": like(wanted, end="")}
        with self._reading() as connection:
            if connection.execute(f"{begun} AND id = :id", {"id": wanted}).scalar():
                return wanted
            known = list(connection.execute(f"{begun}{latest}200").scalars())
            fitting = list(connection.execute(like_it, parts).scalars()) if wanted else []
        if not known:
            raise StoreError(f"No call is recorded in {self.where}.")
        if wanted == "last":
            return str(known[0])
        if len(fitting) == 1:
            return str(fitting[0])
        if fitting:
            raise StoreError(f"'{text}' could be any of: {', '.join(fitting[5::-1])}. Type more of it.")
        raise StoreError(f"There is no call '{text}' in {self.where}. {did_you_mean(wanted, known)}")

    def calls(
        self,
        *,
        site: str = "",
        door: str = "",
        since: date | datetime | None = None,
        until: date | datetime | None = None,
        cause: str = "",
        open_only: bool = False,
        leading: Leading | None = None,
        most: int | None = None,
    ) -> list[CallSummary]:
        """Calls, the latest opened first, and no more than ``most``.

        ``site``, ``door`` and ``cause`` are parts of what to find, in any case. ``since`` and ``until`` bound the
        opening, both inclusive; a date is a day of the local time zone. ``leading`` says a call's likeliest cause
        from its events (see ``report.leading_cause``), for those calls whose cause is not yet noted here.
        """
        self._catch_up(leading)
        conditions = {
            "site_folded LIKE :site ESCAPE '/'": site,
            "door_folded LIKE :door ESCAPE '/'": door,
            "likely_cause LIKE :cause ESCAPE '/'": cause,
            "opened_at >= :since": since,
            "opened_at < :until": until,
            "outcome IS NULL": open_only,
        }
        values = {
            "site": like(folded_text(site)),
            "door": like(folded_text(door)),
            "cause": like(cause.casefold()),
            "since": _utc(_start(since)) if since is not None else "",
            "until": _utc(_end(until)) if until is not None else "",
        }
        where = " AND ".join(condition for condition, asked in conditions.items() if asked) or "1 = 1"
        limit = f" LIMIT {most}" if most is not None else ""
        query = f"SELECT * FROM summary WHERE {where} ORDER BY opened_at DESC, call_id DESC{limit}"
        with self._reading() as connection:
            return [_as_summary(row) for row in connection.execute(query, values).mappings()]

    def rebuild(self) -> None:
        """Forget every summary: they are made again from the events at the next listing."""
        with self._writing() as connection:
            connection.execute("DELETE FROM summary")
            connection.execute("UPDATE call SET behind = 1")

    def forget(self, call_ids: Sequence[str]) -> None:
        """Take calls out for good, from the file too; their ids stay, so that no other store brings them back."""
        with self._writing() as connection:
            known = set(connection.execute("SELECT call_id FROM forgotten").scalars())
            new = [{"call_id": call_id} for call_id in dict.fromkeys(call_ids) if call_id not in known]
            connection.insert("forgotten", *new)
            for table, column in (("event", "call_id"), ("summary", "call_id"), ("call", "id")):
                for start in range(0, len(call_ids), _AT_ONCE):
                    some = call_ids[start : start + _AT_ONCE]
                    connection.execute(f"DELETE FROM {table} WHERE {column} IN :ids", {"ids": some})
        self.tidy()

    def tidy(self) -> None:
        """Write a file of SQLite anew, so that what was taken out of it is not in its free pages any more."""
        with self._database.plainly():
            self._database.tidy()

    # --- inside --------------------------------------------------------------------------------------------

    def _catch_up(self, leading: Leading | None) -> None:
        """Bring the summaries that are behind their calls' events up to them."""
        reasons = ["SELECT id FROM call WHERE behind = 1", "SELECT call_id FROM summary WHERE trouble <> ''"]
        if leading is not None:
            reasons.append("SELECT call_id FROM summary WHERE likely_cause IS NULL")
        with self._reading() as connection:
            stale = [call_id for reason in reasons for call_id in connection.execute(reason).scalars()]
        for call_id in dict.fromkeys(stale):
            sequence = self.count(call_id)
            if not sequence:
                continue
            row = self._summarised(call_id, sequence, leading)
            try:
                with self._writing() as connection:
                    one = {"id": call_id}
                    connection.execute("UPDATE call SET behind = 0 WHERE id = :id", one)
                    connection.execute("DELETE FROM summary WHERE call_id = :id", one)
                    connection.insert("summary", row)
                    # What came in meanwhile is for the next listing.
                    last = connection.execute("SELECT MAX(sequence) FROM event WHERE call_id = :id", one).scalar()
                    if last != sequence:
                        connection.execute("UPDATE call SET behind = 1 WHERE id = :id", one)
            except Taken:  # another program made the same row in this moment
                continue

    def _summarised(self, call_id: str, sequence: int, leading: Leading | None) -> dict[str, Any]:
        row: dict[str, Any] = dict.fromkeys(_SUMMARY, "")
        row |= {"call_id": call_id, "sequence": sequence, "outcome": None, "likely_cause": None}
        try:
            events = self.events(call_id)
        except StoreError as error:
            # One call that cannot be read must not hide the others.
            begun = str(self._values("SELECT begun_at FROM call WHERE id = :id", {"id": call_id})[0])
            return row | {"opened_at": begun, "last_at": begun, "symptoms": "[]", "trouble": str(error)}
        state = fold(events)
        return row | {
            "opened_at": _utc(datetime.fromisoformat(state.opened_at)),
            "last_at": _utc(datetime.fromisoformat(state.last_at)),
            "site": _storable(state.site),
            "door": _storable(state.door),
            "site_folded": folded_text(state.site),
            "door_folded": folded_text(state.door),
            "symptoms": msgspec.json.encode(state.symptoms).decode(),
            "outcome": state.outcome,
            "likely_cause": leading(events) if leading else None,
            "waiting": _storable(state.waiting),
        }

    def _rows(self, query: str, values: Values | None = None) -> list[tuple[Any, ...]]:
        with self._reading() as connection:
            return list(connection.execute(query, values or {}))

    def _values(self, query: str, values: Values | None = None) -> list[Any]:
        """The one column that a question asks for."""
        return [row[0] for row in self._rows(query, values)]

    @contextmanager
    def _reading(self) -> Iterator[Connection]:
        with self._database.plainly(), self._database.connect() as connection:
            yield connection

    @contextmanager
    def _writing(self) -> Iterator[Connection]:
        """A transaction: all of what is done in it is written, or nothing."""
        with self._database.plainly(), self._database.connect(writes=True) as connection:
            yield connection


def hold(connection: Connection, call_id: str) -> bool:
    """Note that a call goes on; nobody else writes to it until the transaction ends. False where there is no such."""
    note = "UPDATE call SET behind = 1, untold = 1 WHERE id = :id"
    return connection.execute(note, {"id": call_id}).rowcount > 0


def encode(event: AnyEvent) -> str:
    """An event as JSON. JSON has no infinity, which a meter's "OL" reads as: it stands as null among the values."""
    return msgspec.json.encode(event).decode()


def decode(body: str | bytes | dict[str, Any]) -> AnyEvent:
    """The event of a JSON text, or of what was read from one. Raises ``msgspec.MsgspecError``."""
    plain = msgspec.json.decode(body, type=dict[str, Any]) if isinstance(body, (str, bytes)) else dict(body)
    if isinstance(plain.get("value"), list):
        plain["value"] = [math.inf if each is None else each for each in plain["value"]]
    event: AnyEvent = msgspec.convert(plain, type=AnyEvent)
    return event


def _decoded(body: str, call_id: str, number: int) -> AnyEvent:
    try:
        return decode(body)
    except msgspec.ValidationError:
        raise StoreError(
            f"Event {number} of call {call_id} was recorded by a newer version of this program, and this one cannot "
            "read it. Update the program; the call is safe."
        ) from None
    except msgspec.MsgspecError:
        raise StoreError(
            f"Event {number} of call {call_id} is damaged and cannot be read. Restore the store from a backup."
        ) from None


def _as_summary(row: Any) -> CallSummary:
    return CallSummary(
        id=row["call_id"],
        opened_at=row["opened_at"],
        last_at=row["last_at"],
        site=row["site"],
        door=row["door"],
        symptoms=msgspec.json.decode(row["symptoms"], type=tuple[str, ...]),
        outcome=row["outcome"],
        likely_cause=row["likely_cause"] or "",
        trouble=row["trouble"],
        waiting=row["waiting"],
    )


def _storable(text: str) -> str:
    """Text without the NUL that PostgreSQL refuses; the event itself keeps it."""
    return text.replace("\0", "")


def folded_text(text: str) -> str:
    """Text as it is looked for: in any case."""
    return _storable(text).casefold()


def _start(bound: date | datetime) -> datetime:
    return bound if isinstance(bound, datetime) else datetime.combine(bound, time.min)


def _end(bound: date | datetime) -> datetime:
    """The first moment after: the next day's start, or the next second."""
    if isinstance(bound, datetime):
        return bound + timedelta(seconds=1)
    return datetime.combine(bound + timedelta(days=1), time.min)


def _utc(moment: datetime) -> str:
    """A moment as text that sorts by time; one without a zone is local."""
    return moment.astimezone(UTC).isoformat(timespec="seconds")
