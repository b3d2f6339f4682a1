"""The likelihood table of one door with one complaint: who is suspected, and what each answer says of them.

A ``Situation`` is made once for a set of facts and symptoms and does not change as answers arrive.
Its arrays have one column for each suspected cause, the last one for ``unlisted``: a cause no tree names.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from diagnose.knowledge.distributions import Distribution, Shares, extent, misread, probability
from diagnose.knowledge.model import UNLISTED, Check, Facts, Trees, applies, base_rate
from diagnose.reasoning.suspects import complained_of, unable
from diagnose.reasoning.suspects import suspects as suspects_of

Array = NDArray[np.float64]
Indices = NDArray[np.intp]

# A cause no tree names resembles one that is named, but for a share of the checks. How large a share, and which cause
# it resembles, is not known beforehand: each share is as likely as the others, each cause as likely as it is without
# answers, and what is answered says which. Where it is unlike that cause it shows a check mostly as a sound door does:
# with these weights for a sound door, for the suspects on the average, and for any answer. Chosen on doors drawn from
# the trees, each with its cause taken out, and on the soybean data, each disease left out in turn.
UNLIKE: Array = np.array([0.20, 0.35, 0.50, 0.70])
_SOUND, _AVERAGE, _ANY = 0.7, 0.2, 0.1
_MOST_BANDS = 5
# Cuts a reading's range is first looked at with; a check on which very many causes differ is looked at more coarsely.
_MOST_CUTS = 60
_NO_EDGES: tuple[float, ...] = ()


@dataclass(frozen=True, eq=False)
class Table:
    """One check's likelihoods, kept for the causes that change it; under every other it shows what is usual.

    ``usual`` is [answers], ``changed`` the columns that differ from it and ``columns`` [answers, changed] theirs; the
    last of them is that of ``unlisted``. All hold the slip; ``healthy`` [answers] does not. For a reading the answers
    are bands between ``edges`` (one fewer than the bands), made for planning; what is read is scored by its exact
    spread, not by its band. ``own`` [changed] is how much of each column is the cause's own doing: the largest s with
    column = (1 − s)·healthy + s·something.
    """

    check: str
    answers: tuple[str, ...]
    usual: Array
    changed: Indices
    columns: Array
    own: Array
    healthy: Array
    count: int
    edges: tuple[float, ...] = ()
    slip: float = 0.0

    @property
    def likelihood(self) -> Array:
        """P(answer | cause), [answers, causes]; columns sum to 1."""
        whole = np.repeat(self.usual[:, None], self.count, axis=1)
        whole[:, self.changed] = self.columns
        return whole

    def row(self, answer: int) -> Array:
        """P(this answer | cause), [causes]."""
        row = np.full(self.count, self.usual[answer])
        row[self.changed] = self.columns[answer]
        return row

    @property
    def anomaly(self) -> Array:
        """How much of each cause's column is its own doing, [causes]."""
        whole = np.zeros(self.count)
        whole[self.changed] = self.own
        return whole


@dataclass(frozen=True, eq=False)
class Stack:
    """All tables of a situation, one below the other: what is computed of every check at once is computed on this.

    A row is an answer of a check: ``usual`` [rows], and ``values`` for the ``columns`` that differ from it, those of
    row ``r`` from ``starts[r]`` on, with how much of each is its cause's ``own`` doing. ``first`` is each check's first
    row, ``of_row`` each row's check; ``healthy``, ``flat`` (any answer alike), ``slip`` and ``numeric`` are [rows].
    """

    names: tuple[str, ...]
    usual: Array
    values: Array
    columns: Indices
    starts: Indices
    own: Array
    first: Indices
    of_row: Indices
    healthy: Array
    flat: Array
    slip: Array
    numeric: NDArray[np.bool_]

    @staticmethod
    def of(tables: Mapping[str, Table]) -> Stack:
        answers = np.array([len(table.answers) for table in tables.values()], dtype=np.intp)
        lengths = np.repeat([len(table.changed) for table in tables.values()], answers)
        none = np.zeros(0)
        return Stack(
            tuple(tables),
            np.concatenate([none, *(table.usual for table in tables.values())]),
            np.concatenate([none, *(table.columns.ravel() for table in tables.values())]),
            np.concatenate([none, *(np.tile(t.changed, len(t.answers)) for t in tables.values())]).astype(np.intp),
            (np.cumsum(lengths) - lengths).astype(np.intp),
            np.concatenate([none, *(np.tile(t.own, len(t.answers)) for t in tables.values())]),
            np.cumsum(answers) - answers,
            np.repeat(np.arange(len(answers)), answers),
            np.concatenate([none, *(table.healthy for table in tables.values())]),
            np.repeat(1.0 / np.maximum(answers, 1), answers),
            np.repeat([table.slip for table in tables.values()], answers),
            np.repeat(np.array([bool(table.edges) for table in tables.values()], dtype=bool), answers),
        )

    def times(self, weights: Array) -> Array:
        """Σ over causes of likelihood × weights, [rows]."""
        if not len(self.usual):
            return np.zeros(0)
        taken = weights[self.columns]
        others = weights.sum() - np.add.reduceat(taken, self.starts)
        total: Array = self.usual * others + np.add.reduceat(self.values * taken, self.starts)
        return total

    def own_bits(self, probability: Array) -> Array:
        """Σ over causes of probability × L·log₂ L, [rows]."""
        if not len(self.usual):
            return np.zeros(0)
        taken = probability[self.columns]
        others = probability.sum() - np.add.reduceat(taken, self.starts)
        usual, values = self._bits
        total: Array = usual * others + np.add.reduceat(values * taken, self.starts)
        return total

    def by_check(self, rows: Array) -> Array:
        """Sums over each check's rows."""
        return np.add.reduceat(rows, self.first, axis=0) if len(rows) else rows

    def dense(self, causes: Indices) -> tuple[Array, Array]:
        """The likelihoods of a few causes, and how much of each is the cause's own doing: both [rows, causes]."""
        shown, own = np.repeat(self.usual[:, None], len(causes), axis=1), np.zeros((len(self.usual), len(causes)))
        place = np.full(max(int(self.columns.max(initial=0)), int(causes.max(initial=0))) + 1, -1)
        place[causes] = np.arange(len(causes))
        at = place[self.columns]
        kept = np.flatnonzero(at >= 0)
        rows = np.searchsorted(self.starts, kept, side="right") - 1
        shown[rows, at[kept]] = self.values[kept]
        own[rows, at[kept]] = self.own[kept]
        return shown, own

    @cached_property
    def _bits(self) -> tuple[Array, Array]:
        return times_log2(self.usual), times_log2(self.values)


def times_log2(values: Array) -> Array:
    """x·log₂ x, 0 at 0."""
    result: Array = values * np.log2(np.where(values > 0, values, 1.0))
    return result


@dataclass(frozen=True)
class Situation:
    """What is suspected before any answer, and the tables of the checks that tell suspects apart."""

    causes: tuple[str, ...]
    prior: Array
    # P(the complaint | the cause): how surely a cause left in the door keeps the complaint alive.
    complaint: Array
    tables: dict[str, Table]
    trees: Trees = field(repr=False)
    facts: Facts = field(repr=False)
    symptoms: tuple[str, ...] = ()
    # For each check that wants a function, which known suspects take it away, 1 or 0 [causes]; and the checks that
    # want what the complaint lacks.
    unable: Mapping[str, Array] = field(default_factory=dict, repr=False)
    complained_of: frozenset[str] = frozenset()

    @property
    def count(self) -> int:
        """Suspected causes, ``unlisted`` among them."""
        return len(self.causes)

    @cached_property
    def stack(self) -> Stack:
        return Stack.of(self.tables)


def make_situation(trees: Trees, facts: Facts, symptoms: Iterable[str]) -> Situation:
    """The suspects raised by ``symptoms`` on a door with ``facts``, and every check that bears on them.

    A suspect's prior is its base rate times P(complaint | cause) for each symptom (``suspects``). Raises ``KeyError``
    for an unknown symptom.
    """
    named = tuple(dict.fromkeys(symptoms))
    raised = suspects_of(trees, facts, named)
    suspects = tuple(raised)
    strength = np.array([chances.prod() for chances in raised.values()], dtype=float)
    weights = np.array([base_rate(trees, c, facts) for c in suspects], dtype=float) * strength
    total = float(weights.sum()) if suspects else 1.0
    share = trees.costs.unlisted
    prior = np.append(weights / total * (1 - share), share) if suspects else np.array([1.0])
    signs: dict[str, dict[int, Distribution]] = {}
    for index, cause in enumerate(suspects):
        for check_id, sign in trees.causes[cause].signs.items():
            signs.setdefault(check_id, {})[index] = sign
    lost = unable(trees, facts, suspects)
    for check_id in signs.keys() & lost.keys():
        _tell_nothing(trees.checks[check_id], signs[check_id], lost[check_id])
    tables = {
        check.id: table
        for check in trees.checks.values()
        if check.id in signs
        and applies(check.applies, facts)
        and (table := make_table(trees, check, signs[check.id], prior)) is not None
    }
    return Situation(
        (*suspects, UNLISTED),
        prior,
        np.append(strength, 1.0),
        tables,
        trees,
        facts,
        named,
        lost,
        complained_of(trees, facts, named),
    )


def _tell_nothing(check: Check, signs: dict[int, Distribution], lost: Array) -> None:
    """A question that means nothing with a cause, for what it wants is lost, may be answered anyhow: not as if all were
    sound. What the trees write of it stays."""
    anyhow = Shares(dict.fromkeys(check.answers, 1.0 / len(check.answers))) if check.answers else None
    for index in np.flatnonzero(lost):
        if anyhow is not None and int(index) not in signs:
            signs[int(index)] = anyhow


def make_table(trees: Trees, check: Check, signs: Mapping[int, Distribution], prior: Array) -> Table | None:
    """The table of one check from what it shows under the suspects that change it, ``signs`` by their columns.

    ``prior`` is [causes], ``unlisted`` the last. ``None`` where it is not known what the check usually shows.
    """
    if check.healthy is None or not signs:
        return None
    slip = slip_of(trees, check)
    answers, edges, shown, healthy, odd = _columns(_Same(check, *signs.values()))
    changed, own = np.array(list(signs), dtype=np.intp), np.append(odd, 1.0)
    usual = (1 - slip) * healthy + slip / len(answers)
    known = np.repeat(usual[:, None], len(prior) - 1, axis=1)
    known[:, changed] = (1 - slip) * shown + slip / len(answers)
    unlisted = unlisted_column(known, prior[:-1], usual, 1.0 / len(answers))
    columns_of_changed = np.column_stack([known[:, changed], unlisted])
    changed = np.append(changed, len(prior) - 1)
    return Table(check.id, answers, usual, changed, columns_of_changed, own, healthy, len(prior), edges, slip)


class _Same:
    """A check and states as a key of a cache: equal where they are the very same objects."""

    def __init__(self, check: Check, *states: Distribution) -> None:
        self.check, self.states = check, states
        self._ids = (id(check), *map(id, states))

    def __hash__(self) -> int:
        return hash(self._ids)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Same) and self._ids == other._ids


# A fact that is told makes a situation anew, and most of its checks have the same suspects as before.
@lru_cache(maxsize=1 << 14)
def _columns(asked: _Same) -> tuple[tuple[str, ...], tuple[float, ...], Array, Array, Array]:
    """Answers, where they are cut, P(answer) in each state and in a sound door, and how far each is from sound."""
    check, states = asked.check, list(asked.states)
    assert check.healthy is not None
    if isinstance(check.healthy, Shares):
        answers, edges = check.answers, _NO_EDGES
        columns = [_shares(state, answers) for state in states]
        healthy = _shares(check.healthy, answers)
    else:
        edges = _edges(check, [check.healthy, *states])
        answers = _band_names(edges, check.unit)
        columns = [_bands(state, edges, check) for state in states]
        healthy = _bands(check.healthy, edges, check)
    shown = np.array(columns).T
    return answers, edges, shown, healthy, _anomaly(shown, healthy)


def unlisted_column(known: Array, weights: Array, sound: Array, flat: float) -> Array:
    """What a cause no tree names would answer, nothing known of it yet: [answers] from ``known`` [answers, causes]."""
    average = known @ (weights / weights.sum()) if weights.sum() > 0 else np.full(known.shape[0], flat)
    unlike = float(UNLIKE.mean())
    mixed: Array = (1 - unlike) * average + unlike * otherwise(sound, average, flat)
    return mixed


def otherwise(sound: Array, average: Array, flat: float | Array) -> Array:
    """P(answer) at a check where an unlisted cause is unlike the one it resembles, from the same in a sound door
    (``sound``), under the suspects on the average, and where any answer is as likely; all of one shape."""
    return _SOUND * sound + _AVERAGE * average + _ANY * flat


def slip_of(trees: Trees, check: Check) -> float:
    return trees.costs.slip if check.slip is None else check.slip


def _anomaly(known: Array, healthy: Array) -> Array:
    """How much of each column cannot come from a healthy state: 1 − min over answers of column/healthy."""
    with np.errstate(over="ignore"):
        ratio = np.divide(known, healthy[:, None], out=np.full_like(known, np.inf), where=healthy[:, None] > 0)
    lowest: Array = np.minimum(ratio.min(axis=0), 1.0) if known.shape[1] else np.zeros(0)
    return 1 - lowest


def _shares(state: Distribution, answers: tuple[str, ...]) -> Array:
    assert isinstance(state, Shares)
    return np.array([state.shares[answer] for answer in answers])


def _edges(check: Check, states: list[Distribution]) -> tuple[float, ...]:
    """Where to cut a reading's range so that the states differ between the bands; at most four cuts."""
    cuts = sorted({edge for state in states for edge in extent(state, 1.3) if math.isfinite(edge)})
    if check.plausible:
        low, high = check.plausible
        cuts = [cut for cut in cuts if low < cut < high] or [(low + high) / 2]
    if len(cuts) > _MOST_CUTS:
        cuts = [cuts[round(i)] for i in np.linspace(0, len(cuts) - 1, _MOST_CUTS)]
    masses = np.array([_bands(state, cuts, check) for state in states])
    while len(cuts) > _MOST_BANDS - 1:
        # Drop the cut whose two neighbours tell the states apart least.
        loss = [
            float(np.abs(masses[:, i] * masses[:, i + 1].sum() - masses[:, i + 1] * masses[:, i].sum()).sum())
            for i in range(len(cuts))
        ]
        least = int(np.argmin(loss))
        cuts.pop(least)
        masses[:, least] += masses[:, least + 1]
        masses = np.delete(masses, least + 1, axis=1)
    return tuple(cuts)


def _bands(state: Distribution, edges: Sequence[float], check: Check) -> Array:
    """P(band) in a state. The chances of all bands make one, or a plan would lose a part of what can happen wherever it
    asks this check, and asking it would look cheaper than it is."""
    beyond = [probability(state, edge, math.inf, instrument_error(check, edge)) for edge in edges]
    held = np.maximum(-np.diff([1.0, *beyond, 0.0]), 0.0)
    shares: Array = held / held.sum()
    return shares


def instrument_error(check: Check, value: float) -> float:
    """Standard uncertainty of one reading of ``value``, in the check's unit (JCGM 100:2008, 4.3.7)."""
    if check.instrument is None or not math.isfinite(value):
        return 0.0
    tool = check.instrument
    half_width = tool.percent / 100 * abs(value) + tool.counts * tool.step + tool.absolute
    return half_width / math.sqrt(3)


def _band_names(edges: tuple[float, ...], unit: str) -> tuple[str, ...]:
    shown = [f"{edge:.3g}" for edge in edges]
    suffix = f" {unit}" if unit else ""
    between = [f"{low} to {high}{suffix}" for low, high in itertools.pairwise(shown)]
    return (f"below {shown[0]}{suffix}", *between, f"above {shown[-1]}{suffix}")


@dataclass(frozen=True)
class Scored:
    """One answer: P(answer | cause) for every known suspect, ``unlisted`` not among them; the same in a ``sound`` door,
    and if any answer is as likely as another (``flat``)."""

    known: Array
    sound: float
    flat: float
    table: Table


def score_answer(
    situation: Situation, check: Check, answer: str | float, error: float | None = None, slip: float | None = None
) -> Scored | None:
    """P(answer | cause) for every known suspect; ``None`` where the check says nothing.

    A number is scored over one display step of its instrument, with ``error`` (by default the instrument's) as
    its standard uncertainty. ``slip`` is the chance that it was misread: then any answer is as likely as another.
    """
    table = situation.tables.get(check.id)
    if table is None:
        return None
    chance = table.slip if slip is None else slip
    if isinstance(answer, str):
        if answer not in table.answers:
            return None
        flat = 1.0 / len(table.answers)
        row = table.answers.index(answer)
        shown = table.row(row)[:-1]
        exact = (shown - table.slip * flat) / (1 - table.slip) if table.slip < 1 else shown
        sound = float(table.healthy[row])
    else:
        flat, sound, exact = _number_likelihood(situation, check, answer, error)
    known = np.maximum((1 - chance) * exact + chance * flat, 0.0)
    return Scored(known, (1 - chance) * sound + chance * flat, flat, table)


def _number_likelihood(
    situation: Situation, check: Check, value: float, error: float | None
) -> tuple[float, float, Array]:
    """The flat likelihood of one reading, a sound door's, and each known suspect's."""
    assert check.healthy is not None
    low, high = check.plausible or extent(check.healthy, 6)
    uncertainty = instrument_error(check, value) if error is None else error
    step = check.instrument.step if check.instrument and check.instrument.step else (high - low) / 400
    if value > high or math.isinf(value):
        bottom, top = high, math.inf
    elif value < low:
        bottom, top = -math.inf, low
    else:
        bottom, top = value - step / 2, value + step / 2
    flat = misread(check.healthy, (low, high), bottom, top)
    causes = situation.trees.causes
    sound = probability(check.healthy, bottom, top, uncertainty)
    exact = np.full(situation.count - 1, sound)
    for column in situation.tables[check.id].changed[:-1]:
        exact[column] = probability(causes[situation.causes[column]].signs[check.id], bottom, top, uncertainty)
    return flat, sound, exact
