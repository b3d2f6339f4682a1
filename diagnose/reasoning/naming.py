"""Naming the cause, where no repair is asked for: which check next, when enough is known, and how well it was tested.

The check with the most information about the cause for each minute comes next, until a cause is as certain as was asked
for, or until no answer still to come can put another cause first.
"""

from __future__ import annotations

from collections.abc import Collection

import numpy as np

from diagnose.reasoning.plan import Planner, Prospect, Suggestion, entropy
from diagnose.reasoning.situation import Situation, Table, otherwise

# Why asking ends.
FOUND = "cause found"
NOTHING_MATTERS = "nothing can matter"
# An answer speaks against a cause where it is so many times as likely under a cause that no tree names (a Bayes factor
# called positive; Kass & Raftery, *Bayes Factors*, 1995; from memory).
_AGAINST = 3.0
# Rows of tables above which it is not looked whether they can still matter: where so much is left, something can.
_MOST_ROWS = 400


def next_question(planner: Planner, sure: float, leaving: Collection[str] = ()) -> Suggestion:
    """What to ask next, or a ``stop`` whose id is ``FOUND`` or ``NOTHING_MATTERS``."""
    belief = planner.standing.belief.causes()
    if float(belief.max()) >= sure:
        return _stop(FOUND)
    best = planner.most_telling(leaving)
    if best is None or not (planner.standing.doubtful or can_matter(planner)):
        return _stop(NOTHING_MATTERS)
    return Suggestion(best.kind, best.id, best.way, best.expected_cost, _still_to_ask(planner, sure))


def can_matter(planner: Planner) -> bool:
    """Whether answers to the checks not yet answered could put another cause first, all of them together."""
    situation, known = planner.standing.situation, planner.standing.known
    left = [table for name, table in situation.tables.items() if name not in known]
    if sum(len(table.answers) for table in left) > _MOST_ROWS or planner.standing.belief.pairs > 0:
        return bool(left)
    belief = planner.standing.belief.causes()
    leader = int(np.argmax(belief))
    with np.errstate(divide="ignore", invalid="ignore"):
        reach = np.log(belief) - np.log(belief[leader])
        for table in left:
            likelihood = table.likelihood
            gains = np.log(likelihood) - np.log(likelihood[:, [leader]])
            reach = reach + np.where(likelihood > 0, gains, -np.inf).max(axis=0)
    reach[leader] = -np.inf
    return bool(np.nanmax(reach, initial=-np.inf) > 0)


def tested(situation: Situation, cause: int, tables: Collection[Table]) -> float:
    """How many of these answered checks could be expected to speak against ``cause`` if another, that no tree names,
    were there: the sum of the chances of an answer that is ``_AGAINST`` times as likely under such a cause."""
    prior = situation.prior[:-1]
    total = 0.0
    for table in tables:
        likelihood = table.likelihood
        average = likelihood[:, :-1] @ (prior / prior.sum()) if prior.sum() > 0 else table.usual
        other = otherwise(table.usual, average, 1.0 / len(table.answers))
        total += float(other[other >= _AGAINST * likelihood[:, cause]].sum())
    return total


def _stop(why: str) -> Suggestion:
    return Suggestion("stop", why, (), 0.0, Prospect(np.zeros(1), np.ones(1)))


def _still_to_ask(planner: Planner, sure: float) -> Prospect:
    """Minutes until the cause is certain enough: the bits to get there at what a bit takes, the telling checks first.

    ``sure`` leaves so many bits open: those of a choice between it and the rest.
    """
    bits = max(entropy(planner.hypotheses.probability) - entropy(np.array([sure, 1 - sure])), 0.0)
    told = minutes = 0.0
    for candidate in planner.candidates:
        told += candidate.information
        minutes += candidate.minutes + candidate.entry
        if told >= bits:
            break
    return Prospect(np.array([minutes * max(bits / told, 1.0) if told > 0 else 0.0]), np.ones(1))
