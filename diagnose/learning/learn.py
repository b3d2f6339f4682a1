"""One lesson from beginning to end: what a store's calls propose, and what a person accepted, put in its file."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from msgspec.structs import replace

from diagnose.calls.store import StoreError
from diagnose.calls.words import cause_title, title
from diagnose.knowledge.learned import (
    Change,
    Learned,
    Number,
    in_words,
    now,
    read_learned,
    write_learned,
)
from diagnose.knowledge.model import Trees
from diagnose.learning.estimates import weights_by_age
from diagnose.learning.proposing import Flag, Proposals, propose
from diagnose.learning.records import Lessons
from diagnose.learning.unlisted import Lot, gathered, untold

_PERIODS_A_YEAR = 4


@dataclass(frozen=True)
class Learnt:
    """What there is to learn: ``calls`` closed with a cause to their name, and what they propose."""

    calls: int
    proposals: Proposals
    lots: tuple[Lot, ...]


def learn(written: Trees, lessons: Lessons) -> Learnt:
    """What the kept rows propose for the trees as they are ``written``, without what was learnt before."""
    periods = lessons.periods()
    half_life = max(written.costs.half_life, 0.01) * _PERIODS_A_YEAR
    counts = lessons.counts(weights_by_age(periods, max(periods, default=0), half_life))
    calls = []
    for call_id in lessons.unlisted():
        try:
            calls.append(untold(written, call_id, lessons.events(call_id)))
        except StoreError:
            continue
    return Learnt(counts.calls, propose(written, counts), tuple(gathered(written, calls, counts.calls)))


def still_to_review(proposals: Proposals, accepted: Learned, written: Trees) -> tuple[Change, ...]:
    """The proposals that say anything new beside what is accepted and still fits."""
    held = {each.place: each for each in accepted.changes if now(written, each) is not None}
    return tuple(each for each in proposals.changes if not _alike(held.get(each.place), each))


def _alike(held: Change | None, change: Change) -> bool:
    """Whether what was accepted is near enough to what is proposed now: a tenth of the way between from and to."""
    if held is None:
        return False
    far = _distance(change.was, change.to)
    return _distance(held.was, change.was) < 1e-3 + 0.01 * far and _distance(held.to, change.to) <= 0.1 * far + 1e-9


def _distance(one: Number, other: Number) -> float:
    if isinstance(one, dict) and isinstance(other, dict):
        return sum(abs(one.get(name, 0.0) - other.get(name, 0.0)) for name in {*one, *other})
    return abs(one - other) if isinstance(one, float) and isinstance(other, float) else float("inf")


def accept(file: Path, written: Trees, changes: Sequence[Change], by: str, on: date) -> Learned:
    """Put changes in the file, each in the place of an earlier one of the same number. Raises ``OSError``."""
    signed = [replace(each, by=by, on=on.isoformat()) for each in changes]
    held = {each.place: each for each in (*read_learned(file).changes, *signed)}
    learned = Learned(trees=written.digest, changes=tuple(held.values()))
    write_learned(file, learned)
    return learned


def undo(file: Path, entry: str = "") -> int:
    """Take back what was accepted of one entry, or all of it; gives back how many changes. Raises ``OSError``."""
    return _keep(file, lambda each: bool(entry) and entry not in (each.entry, each.at))


def take_back(file: Path, change: Change) -> int:
    """Take back one change. Raises ``OSError``."""
    return _keep(file, lambda each: each.place != change.place)


def _keep(file: Path, stays: Callable[[Change], bool]) -> int:
    learned = read_learned(file)
    kept = tuple(each for each in learned.changes if stays(each))
    if kept:
        write_learned(file, replace(learned, changes=kept))
    else:
        file.unlink(missing_ok=True)
    return len(learned.changes) - len(kept)


def change_in_words(trees: Trees, change: Change) -> str:
    """A change in a sentence: what it is of, from what to what, and on how many calls."""
    cause = f"“{cause_title(trees, change.entry)}”"
    check = f"“{_check(trees, change.at)}”"
    unit = trees.checks[change.at or change.entry].unit if change.what.endswith("reading") else ""
    where = ", ".join(change.when.values())
    of = {
        "base rate": f"Base rate of {cause}{f' on doors: {where}' if where else ''}",
        "complaint": f"{cause} is reported as “{title(trees, 'symptoms', change.at)}”",
        "answers": f"{cause} shows at {check}",
        "reading": f"{cause} reads at {check}",
        "sound answers": f"A sound door shows at “{_check(trees, change.entry)}”",
        "sound reading": f"A sound door reads at “{_check(trees, change.entry)}”",
        "minutes of check": f"Minutes of “{_check(trees, change.entry)}”",
        "minutes of remedy": f"Minutes of “{title(trees, 'remedies', change.entry)}”",
        "success of remedy": f"“{title(trees, 'remedies', change.entry)}” ends “{cause_title(trees, change.at)}”",
    }[change.what]
    if change.what == "base rate" and isinstance(change.was, float) and isinstance(change.to, float):
        expected = f", {change.expected:g} expected" if change.expected else ""
        rates = f"{1000 * change.was:.3g} → {1000 * change.to:.3g} per 1000 calls"
        return f"{of}: {rates}; the cause of {change.calls:g} calls{expected}"
    was, to = (f"{in_words(value)} {unit}".strip() for value in (change.was, change.to))
    return f"{of}: {was} → {to}, on {change.calls:g} calls"


def flag_in_words(trees: Trees, flag: Flag) -> str:
    """A likelihood that is not believed any more, in a sentence."""
    of = f"“{cause_title(trees, flag.cause)}”" if flag.cause else "A sound door"
    return (
        f"{of} at “{_check(trees, flag.check)}”: the trees say {in_words(dict(flag.said))}; "
        f"{flag.calls} calls showed {in_words(dict(flag.seen))}."
    )


FOR_A_LOT = (
    "To begin its entry, put this under 'causes:' in the file of the trees where it belongs, with a name, a title and "
    "remedies of your own; then: diagnose trees check"
)


def lot_in_words(lot: Lot) -> str:
    """Calls whose cause is in no tree, in a sentence; ``Lot.told`` names them."""
    return f"{len(lot.calls)} calls that ended with a cause in no tree are alike:"


def _check(trees: Trees, identity: str) -> str:
    return trees.checks[identity].text if identity in trees.checks else identity
