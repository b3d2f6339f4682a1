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

from diagnose.calls.database import Connection
from diagnose.calls.store import Store, StoreError

_SETTLE = "UPDATE difference SET settled_at = :at, settled_by = :by WHERE id = :id"


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


def write(connection: Connection, found: Iterable[Differing]) -> None:
    """Put differences into a store, in a transaction of the caller's; those that are there are left as they are."""
    for each in found:
        if connection.execute("SELECT id FROM difference WHERE id = :id", {"id": each.id}).first() is None:
            connection.insert("difference", vars(each))


class Differences(Store):
    """A store's differences. Made of an open store with ``Differences.of``."""

    def unsettled(self) -> list[Differing]:
        """The oldest first."""
        return [each for each in self._all() if each.settled_at is None]

    def settle(self, text: str, by: str) -> Differing:
        """Say that the one difference whose id begins so is settled. Raises ``StoreError``."""
        fitting = [each for each in self.unsettled() if text and each.id.startswith(text.strip().casefold())]
        if len(fitting) != 1:
            known = ", ".join(each.id for each in self.unsettled()[:6]) or "none"
            raise StoreError(f"'{text}' is not one of the differences to settle. There are: {known}.")
        at = datetime.now(UTC).isoformat(timespec="seconds")
        with self._writing() as connection:
            connection.execute(_SETTLE, {"id": fitting[0].id, "at": at, "by": by})
        return fitting[0]

    def meet(self, other: Differences) -> None:
        """Both stores know the same differences afterwards; what one of them settled is settled in both."""
        for giver, taker in ((self, other), (other, self)):
            known = {each.id: each for each in taker._all()}
            given = [each for each in giver._all() if known.get(each.id) != each]
            fresh = [each for each in given if each.id not in known]
            settled = [each for each in given if each.settled_at and each.id in known and not known[each.id].settled_at]
            if not (fresh or settled):
                continue
            with taker._writing() as connection:
                write(connection, fresh)
                for each in settled:
                    connection.execute(_SETTLE, {"id": each.id, "at": each.settled_at, "by": each.settled_by})

    def _all(self) -> list[Differing]:
        with self._reading() as connection:
            rows = connection.execute("SELECT * FROM difference ORDER BY found_at, id").mappings()
        return [Differing(**row) for row in rows]


def drop_differences(connection: Connection, about: Sequence[str]) -> None:
    """Take out for good what was said otherwise elsewhere of these calls or doors."""
    connection.execute("DELETE FROM difference WHERE about IN :about", {"about": about})
