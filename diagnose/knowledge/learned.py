"""What a shop has learnt of the numbers in its trees: a file beside them, and what the trees are with it.

The trees stay as they are written. Each change in the file says which number it is of, what it was when somebody
accepted the change, what it is to be, on how many calls, by whom and when. A change holds only while the trees still
say what it started from: a number that its author has changed since is the author's again, and the checker says so.
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any, Literal

import msgspec
from msgspec.structs import replace

from diagnose.knowledge import model
from diagnose.knowledge.distributions import LogNormal, Normal, Shares, centre
from diagnose.knowledge.files import write_whole
from diagnose.knowledge.marked_yaml import read_marked
from diagnose.knowledge.problems import Place, Problem, Problems, TreeError

# What a change is of. ``entry`` is a cause, but a check or remedy where its own number is named; ``at`` is the
# complaint, the check, or the cause that it is about.
What = Literal[
    "base rate",
    "complaint",
    "answers",
    "sound answers",
    "reading",
    "sound reading",
    "minutes of check",
    "minutes of remedy",
    "success of remedy",
]
Number = float | dict[str, float]
# Numbers are written with so many figures; what differs by less is the same.
_FIGURES, _SAME = 5, 1e-3


_NAMES = {"was": "from", "by": "accepted-by", "on": "accepted"}


class Change(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True, rename=_NAMES):
    """One number of the trees, and what it is to be.

    A base rate is a share of all calls; with ``when`` it is that of doors with those facts alone. Of a reading it is
    the middle of a normal spread, or the median of a lognormal one, in the check's unit. ``calls`` is how many it was
    counted on; of a base rate, how many had that cause where ``was`` led one to expect ``expected``.
    """

    what: What
    entry: str
    at: str = ""
    when: dict[str, str] = {}
    was: Number
    to: Number
    calls: float
    expected: float = 0.0
    by: str = ""
    on: str = ""

    @property
    def place(self) -> tuple[str, str, str, tuple[tuple[str, str], ...]]:
        """What it is of: one file holds one change of each."""
        return self.what, self.entry, self.at, tuple(sorted(self.when.items()))


class Learned(msgspec.Struct, frozen=True, kw_only=True):
    """The changes of a file; ``trees`` is the digest of the trees that they were learnt on."""

    trees: str = ""
    changes: tuple[Change, ...] = ()


class Unfit(msgspec.Struct, frozen=True):
    """A change that these trees no longer have a place for, and why."""

    change: Change
    why: str


def read_learned(file: Path) -> Learned:
    """The changes of a file; none where there is no such file. Raises ``TreeError`` with every fault at its line."""
    try:
        text = file.read_text(encoding="utf-8")
    except FileNotFoundError:
        return Learned()
    except (OSError, UnicodeDecodeError) as error:
        wrong = f"This file cannot be read: {error}."
        raise TreeError([Problem(Place(str(file), 1), wrong, "Mend it, or move it away.", "learned")]) from None
    problems = Problems()
    marked = read_marked(text, str(file), problems)
    written: Any = marked.value if marked is not None else None
    if marked is not None and not (isinstance(written, dict) and isinstance(written.get("changes"), list)):
        problems.error(marked.place(), "This file holds no 'changes:'.", "Undo what was learnt, or mend it.", "learned")
    changes: list[Change] = []
    if marked is not None and not problems.errors:
        for number, each in enumerate(written["changes"]):
            try:
                changes.append(msgspec.convert(each, Change))
            except msgspec.ValidationError as error:
                wrong = f"This change cannot be read: {error}."
                problems.error(marked.place("changes", number), wrong, "Mend it, or take it away.", "learned")
    if problems.errors or marked is None:
        raise TreeError(problems)
    return Learned(trees=str(written.get("trees", "")), changes=tuple(changes))


def write_learned(file: Path, learned: Learned) -> None:
    """Write the file. Raises ``OSError``."""
    import yaml

    plain = msgspec.to_builtins(learned)
    body = yaml.safe_dump(plain, sort_keys=False, allow_unicode=True, width=120)
    head = "# Numbers learnt from closed calls, and accepted. Without one, or without the file, the trees' own hold.\n"
    write_whole(file, (head + body).encode())


def rounded(value: Number) -> Number:
    """A number as it is written in the file; shares still sum to 1 as nearly as that goes."""
    if isinstance(value, dict):
        return {name: float(f"{each:.{_FIGURES}g}") for name, each in value.items()}
    return float(f"{value:.{_FIGURES}g}")


def with_learned(trees: model.Trees, learned: Learned) -> tuple[model.Trees, tuple[Unfit, ...]]:
    """The trees with the changes that fit them, and those that do not. The digest says what was changed."""
    changed = _Changing(trees)
    unfit: list[Unfit] = []
    done: list[Change] = []
    for change in learned.changes:
        why = changed.make(change)
        if why:
            unfit.append(Unfit(change, why))
        else:
            done.append(change)
    if not done:
        return trees, tuple(unfit)
    told = repr([(each.place, each.to) for each in done])
    digest = hashlib.sha256(f"{trees.digest} {told}".encode()).hexdigest()
    return changed.trees(digest), tuple(unfit)


# Where each number stands: the kind of entry, which of the change's two names is its id, the field, and whether the
# other is a name in that.
_PLACES: dict[str, tuple[str, Literal["entry", "at"], str, bool]] = {
    "base rate": ("causes", "entry", "base", False),
    "complaint": ("symptoms", "at", "causes", True),
    "answers": ("causes", "entry", "signs", True),
    "reading": ("causes", "entry", "signs", True),
    "sound answers": ("checks", "entry", "healthy", False),
    "sound reading": ("checks", "entry", "healthy", False),
    "minutes of check": ("checks", "entry", "minutes", False),
    "minutes of remedy": ("remedies", "entry", "minutes", False),
    "success of remedy": ("causes", "at", "remedies", True),
}


def _placed(change: Change) -> tuple[str, str, str, str]:
    """The kind and id of the entry that a change is of, the field, and the name in that; ``""`` for the whole field."""
    kind, which, field, within = _PLACES[change.what]
    named, other = (change.entry, change.at) if which == "entry" else (change.at, change.entry)
    return kind, named, field, other if within else ""


def now(trees: model.Trees, change: Change) -> Number | None:
    """What the trees say where a change would go; ``None`` where they have no such place."""
    kind, identity, field, name = _placed(change)
    entry = getattr(trees, kind).get(identity)
    if entry is None:
        return None
    said = getattr(entry, field).get(name) if name else getattr(entry, field)
    return said if isinstance(said, float) else _of_spread(said)


def unfit_problems(file: Path, unfit: Iterable[Unfit]) -> Problems:
    """Changes that no longer fit, as warnings at their lines."""
    problems = Problems()
    marked = read_marked(file.read_text(encoding="utf-8"), str(file), Problems())
    if marked is None:
        return problems
    lines = {
        msgspec.convert(each, Change).place: marked.place("changes", number)
        for number, each in enumerate(marked.value["changes"])
    }
    for each in unfit:
        mend = "'diagnose learn --undo' takes it away, 'diagnose learn --review' proposes anew."
        problems.warn(lines[each.change.place], each.why, mend, "learned")
    return problems


def _of_spread(spread: Any) -> Number | None:
    if isinstance(spread, Shares):
        return spread.shares
    return centre(spread) if isinstance(spread, Normal | LogNormal) else None


def _same(here: Number, there: Number) -> bool:
    if isinstance(here, dict) and isinstance(there, dict):
        return here.keys() == there.keys() and all(abs(here[k] - there[k]) <= _SAME for k in here)
    if isinstance(here, dict) or isinstance(there, dict):
        return False
    return math.isclose(here, there, rel_tol=_SAME, abs_tol=1e-9)


def _possible(trees: model.Trees, change: Change, here: Number) -> bool:
    """Whether what a number is to be can be one of its kind."""
    to = change.to
    if isinstance(to, dict) or isinstance(here, dict):
        if not (isinstance(to, dict) and isinstance(here, dict) and to.keys() == here.keys()):
            return False
        return min(to.values()) >= 0 and abs(sum(to.values()) - 1) < 0.02
    if change.what in ("base rate", "complaint", "success of remedy"):
        return 0 < to < 1
    if change.what in ("reading", "sound reading"):
        low, high = trees.checks[change.at or change.entry].plausible or (-math.inf, math.inf)
        return low <= to <= high and (here <= 0 or to > 0)
    return 0 < to < math.inf


class _Changing:
    """Trees being changed, each kind of entry copied once it is touched."""

    def __init__(self, trees: model.Trees) -> None:
        self._trees = trees
        self._kinds: dict[str, dict[str, Any]] = {}

    def trees(self, digest: str) -> model.Trees:
        return replace(self._trees, digest=digest, **self._kinds)

    def make(self, change: Change) -> str:
        """Make a change; gives back why it cannot be made, or nothing."""
        here = now(self._trees, change)
        named = " ".join(filter(None, (change.what, f"'{change.entry}'" if change.entry else "", change.at)))
        if here is None:
            return f"The trees have no {named} any more."
        if not _same(here, change.was):
            return (
                f"The trees now say {in_words(here)} for {named}; it was {in_words(change.was)} when this was accepted."
            )
        if not _possible(self._trees, change, here):
            return f"{in_words(change.to)} cannot be the {named}."
        unknown = [
            f for f, v in change.when.items() if f not in self._trees.facts or v not in self._trees.facts[f].answers
        ]
        if unknown:
            return f"'{unknown[0]}' is no fact, or '{change.when[unknown[0]]}' none of its answers."
        self._put(change)
        return ""

    def _put(self, change: Change) -> None:
        if change.what == "base rate" and change.when:
            conditions = {fact: (value,) for fact, value in change.when.items()}
            rates = self._kinds.setdefault("kind_rates", dict(self._trees.kind_rates))
            rate = model.KindRate(conditions, change.to)  # type: ignore[arg-type]
            rates[change.entry] = (*rates.get(change.entry, ()), rate)
            return
        kind, identity, field, name = _placed(change)
        entries = self._kinds.setdefault(kind, dict(getattr(self._trees, kind)))
        before = getattr(entries[identity], field)
        to = _moved(before[name] if name else before, change.to)
        entries[identity] = replace(entries[identity], **{field: {**before, name: to} if name else to})


def _moved(said: Any, to: Number) -> Any:
    """What is said in the trees, its number changed."""
    if isinstance(said, float):
        return to
    if isinstance(to, dict):
        total = sum(to.values())
        return Shares({answer: share / total for answer, share in to.items()})
    return LogNormal(to, said.factor) if isinstance(said, LogNormal) else Normal(to, said.spread)


def in_words(value: Number) -> str:
    """A number, or shares of answers, for people."""
    if isinstance(value, Mapping):
        return ", ".join(f"{answer} {share:.2f}" for answer, share in value.items())
    return f"{value:.3g}"
