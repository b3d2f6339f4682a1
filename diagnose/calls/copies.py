"""Calls as two stores have them: read many at a time as they are written, and put down whole, or not at all.

Events are moved as the text they are kept as, so that those of a newer program pass through unharmed.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

from diagnose.calls.database import Connection
from diagnose.calls.differences import Differing, write
from diagnose.calls.store import GONE_ON, MovedOn, Store, Taken, hold

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
        return set(self._values("SELECT id FROM call"))

    def ids_to_go_on_with(self) -> set[str]:
        """The calls that are open, and those before them at the same doors."""
        self.calls(open_only=True, most=1)  # summaries are brought up to the events
        opened = "SELECT call_id FROM summary WHERE outcome IS NULL"
        before = (
            "SELECT before.call_id FROM summary AS before JOIN summary AS opened "
            "ON before.site_folded = opened.site_folded AND before.door_folded = opened.door_folded "
            "AND (before.site_folded <> '' OR before.door_folded <> '') WHERE opened.outcome IS NULL"
        )
        return set(self._values(f"{opened} UNION {before}"))

    def forgotten(self) -> set[str]:
        """The calls that were taken out of this store for good. One that somebody brought in since is none of them."""
        query = (
            "SELECT call_id FROM forgotten "
            "WHERE NOT EXISTS (SELECT * FROM event WHERE event.call_id = forgotten.call_id)"
        )
        return set(self._values(query))

    def counts(self, ids: Sequence[str]) -> dict[str, int]:
        """How many events each of these calls has; those that have none are left out."""
        query = "SELECT call_id, COUNT(*) FROM event WHERE call_id IN :ids GROUP BY call_id"
        return dict(self._rows(query, {"ids": ids}))

    def kept(self, ids: Sequence[str]) -> dict[str, Kept]:
        """These calls, without those that have no event here."""
        query = "SELECT id, begun_at, body FROM call JOIN event ON call_id = id WHERE id IN :ids ORDER BY id, sequence"
        found: dict[str, Kept] = {}
        for call_id, begun_at, body in self._rows(query, {"ids": ids}):
            found.setdefault(call_id, Kept(begun_at, [])).bodies.append(body)
        return found

    # --- writing: each of these is one transaction ---------------------------------------------------------

    def take(self, calls: Mapping[str, Kept]) -> None:
        """Whole calls that are not here yet, all or none. Raises ``Taken`` where one of them is."""
        begun = [{"id": call_id, "begun_at": kept.begun_at, **GONE_ON} for call_id, kept in calls.items()]
        with self._writing() as connection:
            there = set(connection.execute("SELECT id FROM call WHERE id IN :ids", {"ids": list(calls)}).scalars())
            connection.insert("call", *(row for row in begun if row["id"] not in there))
            for call_id in there:  # begun elsewhere too, or left without an event by a program that was killed
                hold(connection, call_id)
            connection.insert("event", *(row for i, kept in calls.items() for row in _rows(i, 0, kept.bodies)))

    def extend(self, call_id: str, after: int, bodies: Sequence[str], found: Iterable[Differing] = ()) -> None:
        """More events of a call that has ``after`` of them. Raises ``MovedOn`` where it has more."""
        with self._writing() as connection:
            self._expect(connection, call_id, after)
            connection.insert("event", *_rows(call_id, after, bodies))
            write(connection, found)

    def follow(self, call_id: str, seen: int, bodies: Sequence[str]) -> None:
        """Take the order that the same events, and more, have elsewhere. Raises ``MovedOn`` as ``extend`` does."""
        with self._writing() as connection:
            self._expect(connection, call_id, seen)
            connection.execute("DELETE FROM event WHERE call_id = :id", {"id": call_id})
            connection.insert("event", *_rows(call_id, 0, bodies))

    def rename(self, call_id: str, seen: int, other_id: str, instead: Kept) -> None:
        """Keep a call under another id, and in its place the call that is called so elsewhere."""
        with self._writing() as connection:
            self._expect(connection, call_id, seen)
            query = "SELECT begun_at FROM call WHERE id = :id"
            begun_at = connection.execute(query, {"id": call_id}).scalar()
            connection.insert("call", {"id": other_id, "begun_at": begun_at, **GONE_ON})
            names = {"id": call_id, "other": other_id}
            connection.execute("UPDATE event SET call_id = :other WHERE call_id = :id", names)
            connection.insert("event", *_rows(call_id, 0, instead.bodies))

    def _expect(self, connection: Connection, call_id: str, events: int) -> None:
        hold(connection, call_id)
        number = connection.execute("SELECT COUNT(*) FROM event WHERE call_id = :id", {"id": call_id}).scalar()
        if number != events:
            raise MovedOn(call_id, events + 1)

    # --- how much each had when two stores last met --------------------------------------------------------

    def met(self, store: str, abouts: Sequence[str]) -> dict[str, tuple[int, int]]:
        query = "SELECT about, here, there FROM met WHERE store = :store AND about IN :abouts"
        with self._reading() as connection:
            rows = connection.execute(query, {"store": store, "abouts": abouts})
            return {about: (here, there) for about, here, there in rows}

    def note_met(self, store: str, counts: Mapping[str, tuple[int, int]]) -> None:
        rows = [{"store": store, "about": about, "here": h, "there": t} for about, (h, t) in counts.items()]
        with self._writing() as connection:
            known = {"store": store, "abouts": list(counts)}
            connection.execute("DELETE FROM met WHERE store = :store AND about IN :abouts", known)
            connection.insert("met", *rows)


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
