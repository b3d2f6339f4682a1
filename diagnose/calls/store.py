"""Where calls are kept: every event on the disk before it counts, in SQLite or, by URL, in PostgreSQL.

Events are the truth; a call is what they fold to. The table of summaries is there to list and search by, and is made
again from the events whenever it is behind them. SQLAlchemy takes a tenth of a second to load: import this module
where a store is opened, not before the first screen.
"""

from __future__ import annotations

import math
import secrets
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from typing import Any, Literal, Self, get_args

import msgspec
import sqlalchemy as sql

from diagnose.calls.database import Taken as Taken
from diagnose.calls.database import open_engine, plainly, table, usual_place
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
# ``behind`` is 1 while a call's summary does not know of its last event, ``untold`` while what it tells is not kept as
# rows to learn from, up to its last event.
call_table = table("call", "id", "begun_at", "behind", "untold")
event_table = table("event", "call_id", "sequence", "body")
# Only the ids of what was taken out for good.
forgotten_table = table("forgotten", "call_id")
# ``sequence`` is the last event that a row knows of.
summary_table = table(
    "summary",
    *("call_id", "sequence", "opened_at", "last_at", "site", "door", "site_folded", "door_folded"),
    *("symptoms", "outcome", "likely_cause", "trouble", "waiting"),
)

# What an event more makes of a call's row.
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

    def __init__(self, engine: sql.Engine, where: str) -> None:
        self._engine = engine
        self.where = where

    @classmethod
    def open(cls, location: str | Path | None = None) -> Store:
        """The store at a path or an SQLAlchemy URL, made if it is not there and brought to the present shape.

        By default ``$DIAGNOSE_STORE``, else a file in the user's data folder. Raises ``StoreError``.
        """
        engine, where = open_engine(usual_place(location))
        store = cls(engine, where)
        try:
            with store._plainly():
                migrate(engine)
        except NewerStore:
            engine.dispose()
            raise StoreError(
                f"{where} was written by a newer version of this program. Update the program, or give another store."
            ) from None
        except StoreError:
            engine.dispose()
            raise
        return store

    @classmethod
    def of(cls, store: Store) -> Self:
        """The same store, for what this class adds to it; closing it stays the business of whoever opened it."""
        return cls(store._engine, store.where)

    def _bring(self, migrations: Sequence[Migration], table: str, written: str) -> Self:
        """The tables of a part of the store brought to the present shape; ``written`` begins the sentence that refuses
        one of a newer program. Raises ``StoreError``."""
        try:
            with self._plainly():
                migrate(self._engine, migrations, table)
        except NewerStore:
            raise StoreError(f"{written} written by a newer program. Update this one.") from None
        return self

    def close(self) -> None:
        self._engine.dispose()

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
            with self._plainly(), self._writing() as connection:
                connection.execute(call_table.insert().values(row))
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
            with self._plainly(), self._writing() as connection:
                # Who holds the call's row may write; the others wait their turn.
                mark = call_table.update().where(call_table.c.id == call_id).values(GONE_ON)
                if not connection.execute(mark).rowcount:
                    raise StoreError(f"There is no call '{call_id}' in {self.where}.")
                connection.execute(event_table.insert(), rows)
        except Taken:
            numbers = [row["sequence"] for row in rows]
            query = sql.select(event_table.c.body).where(
                event_table.c.call_id == call_id, event_table.c.sequence.in_(numbers)
            )
            there = self._values(query.order_by(event_table.c.sequence))
            if there != [row["body"] for row in rows]:
                raise MovedOn(call_id, numbers[0], tuple(self.events(call_id))) from None

    def recorder(self, call_id: str) -> Callable[[AnyEvent], None]:
        """What a ``Call`` is given to write its events with."""
        return lambda event: self.append(call_id, event)

    # --- reading -------------------------------------------------------------------------------------------

    def count(self, call_id: str) -> int:
        """How many events a call has; 0 where there is none of that id."""
        query = sql.select(sql.func.count()).where(event_table.c.call_id == call_id)
        return int(self._values(query)[0])

    def events(self, call_id: str) -> list[AnyEvent]:
        """A call's events in order.

        Raises ``StoreError`` for an unknown call, and for an event that this program cannot read.
        """
        query = sql.select(event_table.c.body).where(event_table.c.call_id == call_id).order_by(event_table.c.sequence)
        bodies = self._values(query)
        if not bodies:
            raise StoreError(f"There is no call '{call_id}' in {self.where}. 'diagnose log' lists them.")
        return [_decoded(body, call_id, number) for number, body in enumerate(bodies, start=1)]

    def events_of(self, call_ids: Sequence[str]) -> list[list[AnyEvent]]:
        """The events of a few calls, in one reading. Raises ``StoreError`` for an event that cannot be read."""
        query = (
            sql.select(event_table.c.call_id, event_table.c.body)
            .where(event_table.c.call_id.in_(call_ids))
            .order_by(event_table.c.call_id, event_table.c.sequence)
        )
        bodies: dict[str, list[str]] = {call_id: [] for call_id in call_ids}
        for call_id, body in self._rows(query):
            bodies[call_id].append(body)
        return [
            [_decoded(body, call_id, number) for number, body in enumerate(some, start=1)]
            for call_id, some in bodies.items()
        ]

    def find(self, text: str) -> str:
        """The id of the one call whose id begins or ends so; ``last`` is the call last begun. Raises ``StoreError``."""
        begun = sql.select(call_table.c.id).where(sql.exists().where(event_table.c.call_id == call_table.c.id))
        latest = begun.order_by(call_table.c.begun_at.desc(), call_table.c.id.desc())
        wanted = text.strip().casefold()
        parts = (call_table.c.id.startswith(wanted, autoescape=True), call_table.c.id.endswith(wanted, autoescape=True))
        with self._plainly(), self._engine.connect() as connection:
            if connection.scalar(begun.where(call_table.c.id == wanted)):
                return wanted
            known = list(connection.scalars(latest.limit(200)))
            fitting = list(connection.scalars(latest.where(sql.or_(*parts)).limit(7))) if wanted else []
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
        query = sql.select(summary_table).order_by(summary_table.c.opened_at.desc(), summary_table.c.call_id.desc())
        for column, part in ((summary_table.c.site_folded, site), (summary_table.c.door_folded, door)):
            if part:
                query = query.where(column.contains(folded_text(part), autoescape=True))
        if cause:
            query = query.where(summary_table.c.likely_cause.contains(cause.casefold(), autoescape=True))
        if since is not None:
            query = query.where(summary_table.c.opened_at >= _utc(_start(since)))
        if until is not None:
            query = query.where(summary_table.c.opened_at < _utc(_end(until)))
        if open_only:
            query = query.where(summary_table.c.outcome.is_(None))
        return [_as_summary(row._mapping) for row in self._rows(query.limit(most))]

    def rebuild(self) -> None:
        """Forget every summary: they are made again from the events at the next listing."""
        with self._plainly(), self._writing() as connection:
            connection.execute(summary_table.delete())
            connection.execute(call_table.update().values(behind=1))

    def forget(self, call_ids: Sequence[str]) -> None:
        """Take calls out for good, from the file too; their ids stay, so that no other store brings them back."""
        with self._plainly(), self._writing() as connection:
            known = set(connection.scalars(sql.select(forgotten_table.c.call_id)))
            if new := [{"call_id": call_id} for call_id in dict.fromkeys(call_ids) if call_id not in known]:
                connection.execute(forgotten_table.insert(), new)
            for table, column in ((event_table, "call_id"), (summary_table, "call_id"), (call_table, "id")):
                for start in range(0, len(call_ids), _AT_ONCE):
                    some = call_ids[start : start + _AT_ONCE]
                    connection.execute(table.delete().where(table.c[column].in_(some)))
        self.tidy()

    def tidy(self) -> None:
        """Write a file of SQLite anew, so that what was taken out of it is not in its free pages any more."""
        if self._engine.dialect.name != "sqlite":
            return
        with self._plainly():
            raw = self._engine.raw_connection()
            try:
                raw.cursor().execute("VACUUM")
                raw.cursor().execute("PRAGMA wal_checkpoint(TRUNCATE)")
            finally:
                raw.close()

    # --- inside --------------------------------------------------------------------------------------------

    def _catch_up(self, leading: Leading | None) -> None:
        """Bring the summaries that are behind their calls' events up to them."""
        reasons = [sql.select(call_table.c.id).where(call_table.c.behind == 1)]
        reasons.append(sql.select(summary_table.c.call_id).where(summary_table.c.trouble != ""))
        if leading is not None:
            reasons.append(sql.select(summary_table.c.call_id).where(summary_table.c.likely_cause.is_(None)))
        stale = [call_id for reason in reasons for call_id in self._values(reason)]
        for call_id in dict.fromkeys(stale):
            sequence = self.count(call_id)
            if not sequence:
                continue
            row = self._summarised(call_id, sequence, leading)
            try:
                with self._plainly(), self._writing() as connection:
                    mine = call_table.update().where(call_table.c.id == call_id)
                    connection.execute(mine.values(behind=0))
                    connection.execute(summary_table.delete().where(summary_table.c.call_id == call_id))
                    connection.execute(summary_table.insert().values(row))
                    # What came in meanwhile is for the next listing.
                    last = sql.select(sql.func.max(event_table.c.sequence)).where(event_table.c.call_id == call_id)
                    if connection.execute(last).scalar_one() != sequence:
                        connection.execute(mine.values(behind=1))
            except Taken:  # another program made the same row in this moment
                continue

    def _summarised(self, call_id: str, sequence: int, leading: Leading | None) -> dict[str, Any]:
        row: dict[str, Any] = dict.fromkeys(summary_table.c.keys(), "")
        row |= {"call_id": call_id, "sequence": sequence, "outcome": None, "likely_cause": None}
        try:
            events = self.events(call_id)
        except StoreError as error:
            # One call that cannot be read must not hide the others.
            [begun] = self._values(sql.select(call_table.c.begun_at).where(call_table.c.id == call_id))
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

    @contextmanager
    def _writing(self) -> Iterator[sql.Connection]:
        """A transaction that means to write: SQLite takes its lock at once rather than in the middle."""
        with self._engine.connect().execution_options(writes=True) as connection, connection.begin():
            yield connection

    def _rows(self, query: sql.Select[Any]) -> Sequence[Any]:
        """All that a question finds."""
        with self._plainly(), self._engine.connect() as connection:
            return connection.execute(query).all()

    def _values(self, query: sql.Select[Any]) -> list[Any]:
        """The one column that a question asks for."""
        return [row[0] for row in self._rows(query)]

    def _plainly(self) -> AbstractContextManager[None]:
        return plainly(self.where)


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
