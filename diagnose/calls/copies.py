"""Calls as two stores have them: read many at a time as they are written, and put down whole, or not at all.

Events are moved as the text they are kept as, so that those of a newer program pass through unharmed.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

import sqlalchemy as sql

from diagnose.calls.database import table
from diagnose.calls.differences import Differing, write
from diagnose.calls.store import GONE_ON, MovedOn, Store, Taken, call_table, event_table, forgotten_table, summary_table

_met = table("met", "store", "about", "here", "there")
# How many ids a question to the database names at most.
BATCH = 200


class Kept(NamedTuple):
    """A call as it is kept: when it was begun, and the bodies of its events in order."""

    begun_at: str
    bodies: list[str]


class Copies(Store):
    """A store's calls, to bring to another store. Made of an open store with ``Copies.of``."""

    # --- reading -------------------------------------------------------------------------------------------

    def ids(self) -> set[str]:
        return set(self._values(sql.select(call_table.c.id)))

    def ids_to_go_on_with(self) -> set[str]:
        """The calls that are open, and those before them at the same doors."""
        self.calls(open_only=True, most=1)  # summaries are brought up to the events
        at_the_door = summary_table.alias()
        same = sql.and_(
            at_the_door.c.site_folded == summary_table.c.site_folded,
            at_the_door.c.door_folded == summary_table.c.door_folded,
            sql.or_(at_the_door.c.site_folded != "", at_the_door.c.door_folded != ""),
        )
        is_open = summary_table.c.outcome.is_(None)
        opened = sql.select(summary_table.c.call_id).where(is_open)
        before = sql.select(at_the_door.c.call_id).join(summary_table, same).where(is_open).distinct()
        return {*self._values(opened), *self._values(before)}

    def forgotten(self) -> set[str]:
        """The calls that were taken out of this store for good. One that somebody brought in since is none of them."""
        here = sql.exists().where(event_table.c.call_id == forgotten_table.c.call_id)
        return set(self._values(sql.select(forgotten_table.c.call_id).where(~here)))

    def counts(self, ids: Sequence[str]) -> dict[str, int]:
        """How many events each of these calls has; those that have none are left out."""
        number = sql.func.count()
        query = sql.select(event_table.c.call_id, number).where(event_table.c.call_id.in_(ids))
        return {row.call_id: row[1] for row in self._rows(query.group_by(event_table.c.call_id))}

    def kept(self, ids: Sequence[str]) -> dict[str, Kept]:
        """These calls, without those that have no event here."""
        query = (
            sql.select(call_table.c.id, call_table.c.begun_at, event_table.c.body)
            .join(event_table, event_table.c.call_id == call_table.c.id)
            .where(call_table.c.id.in_(ids))
            .order_by(call_table.c.id, event_table.c.sequence)
        )
        found: dict[str, Kept] = {}
        for call_id, begun_at, body in self._rows(query):
            found.setdefault(call_id, Kept(begun_at, [])).bodies.append(body)
        return found

    # --- writing: each of these is one transaction ---------------------------------------------------------

    def take(self, calls: Mapping[str, Kept]) -> None:
        """Whole calls that are not here yet, all or none. Raises ``Taken`` where one of them is."""
        begun = [{"id": call_id, "begun_at": kept.begun_at, **GONE_ON} for call_id, kept in calls.items()]
        with self._plainly(), self._writing() as connection:
            empty = sql.select(call_table.c.id).where(call_table.c.id.in_(calls))
            there = set(connection.scalars(empty))
            if fresh := [row for row in begun if row["id"] not in there]:
                connection.execute(call_table.insert(), fresh)
            for call_id in there:  # begun elsewhere too, or left without an event by a program that was killed
                self._hold(connection, call_id)
            connection.execute(event_table.insert(), [r for i, kept in calls.items() for r in _rows(i, 0, kept.bodies)])

    def extend(self, call_id: str, after: int, bodies: Sequence[str], found: Iterable[Differing] = ()) -> None:
        """More events of a call that has ``after`` of them. Raises ``MovedOn`` where it has more."""
        with self._plainly(), self._writing() as connection:
            self._expect(connection, call_id, after)
            if bodies:
                connection.execute(event_table.insert(), _rows(call_id, after, bodies))
            write(connection, found)

    def follow(self, call_id: str, seen: int, bodies: Sequence[str]) -> None:
        """Take the order that the same events, and more, have elsewhere. Raises ``MovedOn`` as ``extend`` does."""
        with self._plainly(), self._writing() as connection:
            self._expect(connection, call_id, seen)
            connection.execute(event_table.delete().where(event_table.c.call_id == call_id))
            connection.execute(event_table.insert(), _rows(call_id, 0, bodies))

    def rename(self, call_id: str, seen: int, other_id: str, instead: Kept) -> None:
        """Keep a call under another id, and in its place the call that is called so elsewhere."""
        with self._plainly(), self._writing() as connection:
            self._expect(connection, call_id, seen)
            begun_at = connection.scalar(sql.select(call_table.c.begun_at).where(call_table.c.id == call_id))
            connection.execute(call_table.insert().values(id=other_id, begun_at=begun_at, **GONE_ON))
            connection.execute(event_table.update().where(event_table.c.call_id == call_id).values(call_id=other_id))
            connection.execute(event_table.insert(), _rows(call_id, 0, instead.bodies))

    def _expect(self, connection: sql.Connection, call_id: str, events: int) -> None:
        self._hold(connection, call_id)
        number = sql.select(sql.func.count()).where(event_table.c.call_id == call_id)
        if connection.execute(number).scalar_one() != events:
            raise MovedOn(call_id, events + 1)

    def _hold(self, connection: sql.Connection, call_id: str) -> None:
        """Nobody else writes to the call until the transaction ends."""
        connection.execute(call_table.update().where(call_table.c.id == call_id).values(GONE_ON))

    # --- how much each had when two stores last met --------------------------------------------------------

    def met(self, store: str, abouts: Sequence[str]) -> dict[str, tuple[int, int]]:
        query = sql.select(_met.c.about, _met.c.here, _met.c.there)
        rows = self._rows(query.where(_met.c.store == store, _met.c.about.in_(abouts)))
        return {about: (here, there) for about, here, there in rows}

    def note_met(self, store: str, counts: Mapping[str, tuple[int, int]]) -> None:
        if not counts:
            return
        rows = [{"store": store, "about": about, "here": h, "there": t} for about, (h, t) in counts.items()]
        with self._plainly(), self._writing() as connection:
            connection.execute(_met.delete().where(_met.c.store == store, _met.c.about.in_(counts)))
            connection.execute(_met.insert(), rows)


def taken_whole(store: Copies, calls: Mapping[str, Kept]) -> dict[str, Kept]:
    """Put calls into a store that has none of them; gives back those that it has after all, untouched."""
    if not calls:
        return {}
    try:
        store.take(calls)
    except Taken:
        if len(calls) == 1:
            return dict(calls)
        return {i: each for call_id, kept in calls.items() for i, each in taken_whole(store, {call_id: kept}).items()}
    return {}


def _rows(call_id: str, after: int, bodies: Sequence[str]) -> list[dict[str, object]]:
    return [{"call_id": call_id, "sequence": n, "body": body} for n, body in enumerate(bodies, start=after + 1)]
