"""A machine's own store and the shop's, brought together: each has afterwards what both had, once.

The shop's order of a call's events is the order: what is new here is added after what is there, and the copy here then
follows it. What is done is done call by call, so it can be broken off anywhere and begun again. Nothing is remembered
but how much each store had when they last met, and that only saves looking again.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass

import msgspec

from diagnose.calls.brought import Brought, Progress
from diagnose.calls.copies import BATCH, Copies, Kept, taken_whole
from diagnose.calls.differences import Differences, differing
from diagnose.calls.door_sync import sync_doors
from diagnose.calls.exchange import merge
from diagnose.calls.store import ID_LETTERS, MovedOn, Store, decode, encode

_TRIES = 20


def sync(
    own: Store,
    shop: Store,
    by: str = "",
    *,
    everything: bool = False,
    dry: bool = False,
    progress: Progress = lambda what, done, of: None,
) -> Brought:
    """Bring two stores together.

    From the shop come its open calls, those before them at the same doors, and what is new of the calls that are here;
    with ``everything`` all of its calls. What either has forgotten is not brought back to it. Raises ``StoreError``
    where a store cannot be reached: what was brought until then is there, and the rest comes the next time.
    """
    brought = Brought()
    here, there = Copies.of(own), Copies.of(shop)
    sync_doors(own, shop, by, brought, dry=dry, progress=progress)
    wanted = there.ids() if everything else there.ids_to_go_on_with()
    had = here.ids()
    brought.forgotten_here = sorted(wanted & here.forgotten())
    brought.forgotten_there = sorted(had & there.forgotten())
    ids = sorted((had | wanted) - {*brought.forgotten_here, *brought.forgotten_there})
    for start in range(0, len(ids), BATCH):
        progress("calls", start, len(ids))
        _Batch(here, there, by, brought, dry).bring(ids[start : start + BATCH])
    progress("calls", len(ids), len(ids))
    if not dry:
        Differences.of(own).meet(Differences.of(shop))
    return brought


@dataclass
class _Batch:
    here: Copies
    there: Copies
    by: str
    brought: Brought
    dry: bool

    def bring(self, ids: Sequence[str]) -> None:
        counts = {store: store.counts(ids) for store in (self.here, self.there)}
        now = {i: (counts[self.here].get(i, 0), counts[self.there].get(i, 0)) for i in ids}
        met = self.here.met(self.there.where, ids)
        changed = [call_id for call_id in ids if now[call_id] != met.get(call_id, (0, 0))]
        here, there = self.here.kept(changed), self.there.kept(changed)
        only_here = {call_id: kept for call_id, kept in here.items() if call_id not in there}
        only_there = {call_id: kept for call_id, kept in there.items() if call_id not in here}
        late = self._whole(only_here, self.there, self.brought.sent) | self._whole(
            only_there, self.here, self.brought.got
        )
        self.brought.events_sent += sum(len(kept.bodies) for i, kept in only_here.items() if i not in late)
        self.brought.events_got += sum(len(kept.bodies) for i, kept in only_there.items() if i not in late)
        together = {i: (len(kept.bodies),) * 2 for i, kept in {**only_here, **only_there}.items() if i not in late}
        for call_id in [call_id for call_id in changed if call_id in late or (call_id in here and call_id in there)]:
            if length := self._one(call_id):
                together[call_id] = (length, length)
        if not self.dry:
            self.here.note_met(self.there.where, together)

    def _whole(self, calls: dict[str, Kept], taker: Copies, told: list[str]) -> dict[str, Kept]:
        late = {} if self.dry else taken_whole(taker, calls)
        told += [call_id for call_id in calls if call_id not in late]
        return late

    def _one(self, call_id: str) -> int:
        """Bring one call together that both have; its length then, or 0 where it was left."""
        for _ in range(_TRIES):
            try:
                return self._try(call_id)
            except MovedOn:
                continue  # somebody wrote in this moment
            except msgspec.MsgspecError:
                self.brought.left.append(
                    f"Call {call_id} went on here and there, and has entries of a newer program: update this one."
                )
                return 0
        self.brought.left.append(f"Call {call_id} is being worked on: bring it together later.")
        return 0

    def _try(self, call_id: str) -> int:
        here, there = self.here.kept([call_id])[call_id], self.there.kept([call_id])[call_id]
        own, shop = here.bodies, there.bodies
        if own[0] != shop[0]:
            return self._rename(call_id, here, there)
        short = min(len(own), len(shop))
        if own[:short] == shop[:short]:
            new = own[short:] or shop[short:]
            sending = len(own) > len(shop)
            if new and not self.dry:
                (self.there if sending else self.here).extend(call_id, short, new)
            if new:
                (self.brought.sent if sending else self.brought.got).append(call_id)
            self.brought.events_sent += len(own) - short
            self.brought.events_got += len(shop) - short
            return short + len(new)
        added, _, found = merge([decode(body) for body in shop], [decode(body) for body in own], self.by)
        pairs = [each.in_order for each in found]
        differences = [differing("call", call_id, encode(first), encode(other), self.by) for first, other in pairs]
        bodies = [encode(event) for event in added]
        if not self.dry:
            if bodies:
                self.there.extend(call_id, len(shop), bodies, differences)
            self.here.follow(call_id, len(own), [*shop, *bodies])
        if bodies:
            self.brought.merged.append(call_id)
            self.brought.differences += differences
        self.brought.events_sent += len(bodies)
        self.brought.events_got += max(0, len(shop) - len(own) + len(bodies))
        return len(shop) + len(bodies)

    def _rename(self, call_id: str, here: Kept, there: Kept) -> int:
        """Two calls were given one id: the one here gets another, the same one however often this is tried."""
        digest = hashlib.sha256(here.bodies[0].encode()).digest()
        other_id = f"{call_id}-{''.join(ID_LETTERS[byte % len(ID_LETTERS)] for byte in digest[:4])}"
        if not self.dry:
            taken_whole(self.there, {other_id: here})
            if (earlier := self.here.kept([other_id]).get(other_id)) is None:
                self.here.rename(call_id, len(here.bodies), other_id, there)
            else:
                # The last time was broken off, and the call came back from the shop before it was renamed here.
                known = [decode(body) for body in earlier.bodies]
                added, _, _ = merge(known, [decode(body) for body in here.bodies], self.by)
                self.here.extend(other_id, len(known), [encode(event) for event in added])
                self.here.follow(call_id, len(here.bodies), there.bodies)
        self.brought.renamed.append((call_id, other_id))
        self.brought.sent.append(other_id)
        self.brought.events_sent += len(here.bodies)
        return len(there.bodies)
