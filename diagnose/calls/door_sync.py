"""What two stores know of the same doors, brought together: no record is lost, and the latest of the shop's counts.

Where both changed a door since they last knew the same of it, what only one changed is taken from that one; what both
changed differently stands as the shop has it, and is listed as a difference.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime
from typing import NamedTuple

import msgspec

from diagnose.calls.brought import Brought, Progress
from diagnose.calls.copies import BATCH, Copies
from diagnose.calls.differences import Differing, differing, write
from diagnose.calls.doors import DoorRecord, Doors, id_of, put_name
from diagnose.calls.store import Store, Taken


class Line(NamedTuple):
    """A record of a door as it is kept, without its number."""

    at: str
    by: str
    body: str


_NOTHING = msgspec.json.encode(DoorRecord()).decode()
Clash = tuple[str, str, str]


def sync_doors(own: Store, shop: Store, by: str, brought: Brought, *, dry: bool, progress: Progress) -> None:
    """Bring the doors of two stores together, and note in ``brought`` what was done."""
    here, there, notes = _Lines.of(own), _Lines.of(shop), Copies.of(own)
    counts, theirs = here.lengths(), there.lengths()
    ids = sorted(counts | theirs)
    for start in range(0, len(ids), BATCH):
        progress("doors", start, len(ids))
        batch = ids[start : start + BATCH]
        met = notes.met(shop.where, batch)
        for door_id in batch:
            if (counts.get(door_id, 0), theirs.get(door_id, 0)) == met.get(door_id, (0, 0)):
                continue
            if length := _bring(here, there, door_id, by, brought, dry):
                notes.note_met(shop.where, {door_id: (length, length)})
    progress("doors", len(ids), len(ids))


def _bring(here: _Lines, there: _Lines, door_id: str, by: str, brought: Brought, dry: bool) -> int:
    """One door; how many records both have of it then, or 0 where nothing was done."""
    own, shop = here.lines(door_id), there.lines(door_id)
    shop_id = door_id
    if own and not shop and (same := there.door_at(_record(own[-1]))):
        # The same place was taken down on both, each with an id of its own.
        shop_id, shop = same, there.lines(same)
    elif not own and here.door_at(_record(shop[-1])):
        return 0  # it is brought together when its own id's turn comes
    missing = [line for line in own if line not in shop]
    lines, clashes = [*shop, *missing], list[Clash]()
    if missing and shop and shop != own[: len(shop)]:
        base = next((line for line in reversed(own) if line in shop), Line("", "", _NOTHING))
        merged, clashes = _merged(_record(base), _record(shop[-1]), _record(own[-1]))
        lines.append(Line(datetime.now(UTC).isoformat(timespec="seconds"), by, msgspec.json.encode(merged).decode()))
    record = _record(lines[-1])
    if there.door_at(record) not in (None, shop_id):
        # Renamed here to what another door of the shop is called.
        named = _record(shop[-1]) if shop else record
        clashes.append(("name", f"{named.site}, {named.name}", f"{record.site}, {record.name}"))
        record = msgspec.structs.replace(record, site=named.site, name=named.name)
        lines.append(lines[-1]._replace(body=msgspec.json.encode(record).decode()))
    found = [
        differing("door", shop_id, f"{name}: {stands or 'not known'}", f"{name}: {other or 'not known'}", by)
        for name, stands, other in clashes
    ]
    if lines != shop:
        brought.doors_sent.append(shop_id)
    if lines != own:
        brought.doors_got.append(shop_id)
    brought.differences += found
    if dry:
        return 0
    try:
        there.put(shop_id, len(shop), lines, found)
        here.follow(door_id, shop_id, len(own), lines)
    except Taken:
        brought.left.append(f"Door {shop_id} is being worked on: bring it together later.")
        return 0
    return len(lines)


def _merged(base: DoorRecord, shop: DoorRecord, own: DoorRecord) -> tuple[DoorRecord, list[Clash]]:
    """A record with both changes, and for each thing that both changed differently what stands and what does not."""
    clashes: list[Clash] = []

    def one(name: str, was: object, theirs: object, ours: object) -> object:
        if theirs == was:
            return ours
        if ours not in (was, theirs):
            clashes.append((name, _said(theirs), _said(ours)))
        return theirs

    def by_name(was: Mapping[str, object], theirs: Mapping[str, object], ours: Mapping[str, object]) -> object:
        names = dict.fromkeys([*theirs, *ours])
        values = {name: one(name, was.get(name), theirs.get(name), ours.get(name)) for name in names}
        return {name: value for name, value in values.items() if value is not None}

    def several(was: tuple[str, ...], theirs: tuple[str, ...], ours: tuple[str, ...]) -> tuple[str, ...]:
        gone = {each for each in was if each not in theirs or each not in ours}
        return tuple(each for each in dict.fromkeys([*theirs, *ours]) if each not in gone)

    fields: dict[str, object] = {}
    for name in DoorRecord.__struct_fields__:
        was, theirs, ours = (getattr(record, name) for record in (base, shop, own))
        if isinstance(was, dict):
            fields[name] = by_name(was, theirs, ours)
        else:
            fields[name] = several(was, theirs, ours) if isinstance(was, tuple) else one(name, was, theirs, ours)
    return msgspec.convert(fields, DoorRecord), clashes


def _said(value: object) -> str:
    return ", ".join(value) if isinstance(value, tuple) else str(value or "")


def _record(line: Line) -> DoorRecord:
    return msgspec.json.decode(line.body, type=DoorRecord)


class _Lines(Doors):
    """A store's doors as they are written."""

    def lengths(self) -> dict[str, int]:
        with self._reading() as connection:
            rows = connection.execute("SELECT door_id, COUNT(*) FROM door_revision GROUP BY door_id")
            return dict(rows)

    def lines(self, door_id: str) -> list[Line]:
        query = 'SELECT "at", "by", body FROM door_revision WHERE door_id = :id ORDER BY number'
        return [Line(*row) for row in self._rows(query, {"id": door_id})]

    def door_at(self, record: DoorRecord) -> str | None:
        """The id of the door that has this record's site and name."""
        with self._reading() as connection:
            return id_of(connection, record.site, record.name)

    def put(self, door_id: str, seen: int, lines: list[Line], found: list[Differing]) -> None:
        """Add what is new of ``lines`` to a door that has ``seen`` of them. Raises ``Taken`` where it has more."""
        if len(lines) == seen:
            return
        with self._writing() as connection:
            put_name(connection, door_id, _record(lines[-1]), lines[-1].at)
            connection.insert("door_revision", *_rows(door_id, seen, lines[seen:]))
            write(connection, found)

    def follow(self, door_id: str, shop_id: str, seen: int, lines: list[Line]) -> None:
        """Take the order, and the id, that the same records, and more, have elsewhere."""
        if door_id == shop_id and lines == self.lines(door_id):
            return
        with self._writing() as connection:
            mine, theirs = {"id": door_id}, {"id": shop_id}
            if connection.execute("SELECT COUNT(*) FROM door_revision WHERE door_id = :id", mine).scalar() != seen:
                raise Taken
            connection.execute("DELETE FROM door_revision WHERE door_id = :id", mine)
            if door_id != shop_id:
                connection.execute("DELETE FROM door WHERE id = :id", mine)
                connection.execute("DELETE FROM door_revision WHERE door_id = :id", theirs)
            put_name(connection, shop_id, _record(lines[-1]), lines[-1].at)
            connection.insert("door_revision", *_rows(shop_id, 0, lines))


def _rows(door_id: str, after: int, lines: list[Line]) -> list[dict[str, object]]:
    return [{"door_id": door_id, "number": n, **line._asdict()} for n, line in enumerate(lines, start=after + 1)]
