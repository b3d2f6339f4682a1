"""What two people recorded differently of one call or one door, each without the other's entries.

Both words are kept where they were written. A difference is listed until somebody says that it is settled: first what
is so is said once more in the call, or of the door.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Literal

import sqlalchemy as sql

from diagnose.calls.database import table
from diagnose.calls.store import Store, StoreError

_difference = table(
    "difference",
    *("id", "kind", "about", "found_at", "found_by", "stands", "other", "settled_at", "settled_by"),
)


@dataclass(frozen=True)
class Differing:
    """Two words on one thing. ``stands`` and ``other`` are events as JSON for a call, and sentences for a door."""

    id: str
    kind: Literal["call", "door"]
    about: str
    found_at: str
    found_by: str
    stands: str
    other: str
    settled_at: str | None = None
    settled_by: str | None = None


def differing(kind: Literal["call", "door"], about: str, stands: str, other: str, by: str) -> Differing:
    """A difference just found; the same one found again has the same id."""
    identity = hashlib.sha256("\0".join((kind, about, stands, other)).encode()).hexdigest()[:8]
    return Differing(identity, kind, about, datetime.now(UTC).isoformat(timespec="seconds"), by, stands, other)


def write(connection: sql.Connection, found: Iterable[Differing]) -> None:
    """Put differences into a store, in a transaction of the caller's; those that are there are left as they are."""
    for each in found:
        if connection.execute(sql.select(_difference.c.id).where(_difference.c.id == each.id)).first() is None:
            connection.execute(_difference.insert().values(vars(each)))


class Differences(Store):
    """A store's differences. Made of an open store with ``Differences.of``."""

    def unsettled(self) -> list[Differing]:
        """The oldest first."""
        return self._those(_difference.c.settled_at.is_(None))

    def settle(self, text: str, by: str) -> Differing:
        """Say that the one difference whose id begins so is settled. Raises ``StoreError``."""
        fitting = [each for each in self.unsettled() if text and each.id.startswith(text.strip().casefold())]
        if len(fitting) != 1:
            known = ", ".join(each.id for each in self.unsettled()[:6]) or "none"
            raise StoreError(f"'{text}' is not one of the differences to settle. There are: {known}.")
        at = datetime.now(UTC).isoformat(timespec="seconds")
        with self._plainly(), self._writing() as connection:
            change = _difference.update().where(_difference.c.id == fitting[0].id)
            connection.execute(change.values(settled_at=at, settled_by=by))
        return fitting[0]

    def meet(self, other: Differences) -> None:
        """Both stores know the same differences afterwards; what one of them settled is settled in both."""
        for giver, taker in ((self, other), (other, self)):
            known = {each.id: each for each in taker._those(sql.true())}
            given = [each for each in giver._those(sql.true()) if known.get(each.id) != each]
            fresh = [each for each in given if each.id not in known]
            settled = [each for each in given if each.settled_at and each.id in known and not known[each.id].settled_at]
            if not (fresh or settled):
                continue
            with taker._plainly(), taker._writing() as connection:
                write(connection, fresh)
                for each in settled:
                    change = _difference.update().where(_difference.c.id == each.id)
                    connection.execute(change.values(settled_at=each.settled_at, settled_by=each.settled_by))

    def _those(self, which: sql.ColumnElement[bool]) -> list[Differing]:
        query = sql.select(_difference).where(which).order_by(_difference.c.found_at, _difference.c.id)
        return [Differing(**row._mapping) for row in self._rows(query)]


def drop_differences(connection: sql.Connection, about: Sequence[str]) -> None:
    """Take out for good what was said otherwise elsewhere of these calls or doors."""
    connection.execute(_difference.delete().where(_difference.c.about.in_(about)))
