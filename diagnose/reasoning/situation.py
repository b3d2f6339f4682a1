"""The likelihood table of one door with one complaint: who is suspected, and what each answer says of them.

A ``Situation`` is made once for a set of facts and symptoms and does not change as answers arrive.
Its arrays have one column for each suspected cause, the last one for ``unlisted``: a cause no tree names.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from diagnose.knowledge.distributions import Distribution, Shares, extent, misread, probability
from diagnose.knowledge.model import UNLISTED, Check, Facts, Trees, applies

Array = NDArray[np.float64]

# A cause no tree names resembles one that is named, but for a share of the checks. How large a share, and which cause
# it resembles, is not known beforehand: each share is as likely as the others, each cause as likely as it is without
# answers, and what is answered says which. Where it is unlike that cause it shows a check mostly as a sound door does:
# with these weights for a sound door, for the suspects on the average, and for any answer. Chosen on doors drawn from
# the trees, each with its cause taken out, and on the soybean data, each disease left out in turn.
UNLIKE: Array = np.array([0.20, 0.35, 0.50, 0.70])
_SOUND, _AVERAGE, _ANY = 0.7, 0.2, 0.1
_MOST_BANDS = 5
_NO_EDGES: tuple[float, ...] = ()


@dataclass(frozen=True)
class Table:
    """One check's likelihoods. ``likelihood`` is [answers, causes]; columns sum to 1.

    For a reading the answers are bands between ``edges`` (one fewer than the bands), made for planning; what
    is read is scored by its exact spread, not by its band. ``anomaly`` is how much of each cause's column is its
    own doing: the largest s with column = (1 − s)·healthy + s·something.
    """

    check: str
    answers: tuple[str, ...]
    likelihood: Array
    healthy: Array
    anomaly: Array
    edges: tuple[float, ...] = ()
    slip: float = 0.0


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

    @property
    def count(self) -> int:
        """Suspected causes, ``unlisted`` among them."""
        return len(self.causes)


def make_situation(trees: Trees, facts: Facts, symptoms: Iterable[str]) -> Situation:
    """The suspects raised by ``symptoms`` on a door with ``facts``, and every check that bears on them.

    A suspect's prior is its base rate times P(complaint | cause) for each symptom; a symptom that does not name
    a cause raised by another counts ``costs.unnamed_cause`` for it. Raises ``KeyError`` for an unknown symptom.
    """
    named = tuple(dict.fromkeys(symptoms))
    suspects = _suspects(trees, facts, named)
    weights = np.array([trees.causes[c].base for c in suspects], dtype=float)
    strength = np.ones(len(suspects))
    for symptom in named:
        pointed = trees.symptoms[symptom].causes
        strength = strength * [pointed.get(cause, trees.costs.unnamed_cause) for cause in suspects]
    weights = weights * strength
    total = float(weights.sum()) if suspects else 1.0
    share = trees.costs.unlisted
    prior = np.append(weights / total * (1 - share), share) if suspects else np.array([1.0])
    tables = {
        check.id: table
        for check in trees.checks.values()
        if applies(check.applies, facts) and (table := make_table(trees, check, suspects, prior)) is not None
    }
    return Situation((*suspects, UNLISTED), prior, np.append(strength, 1.0), tables, trees, facts, named)


def _suspects(trees: Trees, facts: Facts, symptoms: tuple[str, ...]) -> tuple[str, ...]:
    raised = dict.fromkeys(cause for symptom in symptoms for cause in trees.symptoms[symptom].causes)
    return tuple(cause for cause in raised if applies(trees.causes[cause].applies, facts))


def make_table(trees: Trees, check: Check, suspects: tuple[str, ...], prior: Array) -> Table | None:
    """The table of one check over ``suspects`` and ``unlisted``; ``None`` where no suspect changes it."""
    signs = [trees.causes[cause].signs.get(check.id) for cause in suspects]
    if check.healthy is None or not any(signs):
        return None
    states = [sign if sign is not None else check.healthy for sign in signs]
    slip = slip_of(trees, check)
    if isinstance(check.healthy, Shares):
        answers, edges = check.answers, _NO_EDGES
        columns = [_shares(state, answers) for state in states]
        healthy = _shares(check.healthy, answers)
    else:
        edges = _edges(check, [check.healthy, *(s for s in signs if s is not None)])
        answers = _band_names(edges, check.unit)
        columns = [_bands(state, edges, check) for state in states]
        healthy = _bands(check.healthy, edges, check)
    known = np.array(columns).T if columns else np.zeros((len(answers), 0))
    anomaly = np.append(_anomaly(known, healthy), 1.0)
    known = (1 - slip) * known + slip / len(answers)
    sound = (1 - slip) * healthy + slip / len(answers)
    column = unlisted_column(known, prior[:-1], sound, 1.0 / len(answers))
    return Table(check.id, answers, np.column_stack([known, column]), healthy, anomaly, edges, slip)


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
    while len(cuts) > _MOST_BANDS - 1:
        masses = np.array([[_mass(s, low, high, check) for low, high in _pairs(cuts)] for s in states])
        # Drop the cut whose two neighbours tell the states apart least.
        loss = [
            float(np.abs(masses[:, i] * masses[:, i + 1].sum() - masses[:, i + 1] * masses[:, i].sum()).sum())
            for i in range(len(cuts))
        ]
        cuts.pop(int(np.argmin(loss)))
    return tuple(cuts)


def _pairs(cuts: Iterable[float]) -> list[tuple[float, float]]:
    bounds = [-math.inf, *cuts, math.inf]
    return list(itertools.pairwise(bounds))


def _bands(state: Distribution, edges: tuple[float, ...], check: Check) -> Array:
    return np.array([_mass(state, low, high, check) for low, high in _pairs(edges)])


def _mass(state: Distribution, low: float, high: float, check: Check) -> float:
    middle = low if math.isfinite(low) else high
    return probability(state, low, high, instrument_error(check, middle if math.isfinite(middle) else 0.0))


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
        exact = (table.likelihood[row, :-1] - table.slip * flat) / (1 - table.slip)
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
    states = [causes[cause].signs.get(check.id, check.healthy) for cause in situation.causes[:-1]]
    seen = {id(state): probability(state, bottom, top, uncertainty) for state in [check.healthy, *states]}
    return flat, seen[id(check.healthy)], np.array([seen[id(state)] for state in states])
