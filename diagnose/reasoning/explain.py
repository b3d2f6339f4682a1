"""Said plainly, from the numbers: why this next, what would change one's mind, what if I find …."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np

from diagnose.knowledge.model import UNLISTED, Task, Trees, can_do
from diagnose.knowledge.words import minutes, percent
from diagnose.reasoning.naming import FOUND
from diagnose.reasoning.plan import LIKELY, Candidate, Planner, Suggestion
from diagnose.reasoning.situation import Array, Indices

UNLISTED_TITLE = "something not in the book"


@dataclass(frozen=True)
class Consequence:
    """What one answer of a check would leave: the likeliest cause then, and its probability."""

    answer: str
    chance: float
    cause: str
    probability: float


def cause_title(trees: Trees, cause: str) -> str:
    """A cause's title, ``unlisted`` in words; its id where these trees do not know it."""
    if cause == UNLISTED:
        return UNLISTED_TITLE
    return trees.causes[cause].title if cause in trees.causes else cause


def consequences(planner: Planner, candidate: Candidate) -> list[Consequence]:
    """What if I find …, for each answer of a check."""
    hypotheses = planner.hypotheses
    causes = planner.standing.situation.causes
    found = []
    for answer, row in zip(candidate.answers, candidate.likelihood, strict=True):
        weights = hypotheses.probability * row
        chance = float(weights.sum())
        if chance <= 0:
            continue
        present = _present(weights / chance, hypotheses.first, hypotheses.second, len(causes))
        top = int(np.argmax(present))
        found.append(Consequence(answer, chance, causes[top], float(present[top])))
    return found


def why_check(planner: Planner, check: str) -> str:
    """What a check separates, how long it takes, and what would change."""
    trees = planner.trees
    candidate = next((c for c in planner.candidates if c.way.goal == check), None)
    if candidate is None:
        return ""
    outcomes = consequences(planner, candidate)
    belief = planner.standing.belief.causes()
    causes = planner.standing.situation.causes
    first = causes[int(np.argmax(belief))]
    tellings = sorted(outcomes, key=lambda c: -c.chance)
    lead = tellings[0]
    # "Would make it likely" is said only of what an answer makes likelier than it is.
    now = dict(zip(causes, belief, strict=True))
    turn = next((c for c in tellings if c.cause != lead.cause and c.probability > now[c.cause]), None)
    takes = minutes(suggestion_minutes(planner, candidate))
    split = f"In {takes} it tells "
    if turn is not None:
        return (
            f"{split}{_quoted(trees, lead.cause)} from {_quoted(trees, turn.cause)}: "
            f"'{turn.answer}' would make the latter {percent(turn.probability)} likely."
        )
    strongest = max(outcomes, key=lambda c: c.probability)
    weakest = min(outcomes, key=lambda c: c.probability)
    return (
        f"{split}whether it is {_quoted(trees, first)}: '{strongest.answer}' would make that "
        f"{percent(strongest.probability)} likely, '{weakest.answer}' {percent(weakest.probability)}."
    )


def why_remedy(planner: Planner, suggestion: Suggestion) -> str:
    """Why repairing now beats looking further."""
    trees = planner.trees
    remedy = trees.remedies[suggestion.id]
    chance = next(repair.fixes for repair in planner.remedies if repair.remedy.id == suggestion.id)
    other = next((o for o in suggestion.alternatives if o[:2] != ("remedy", suggestion.id)), None)
    text = f"{percent(chance)} chance that it ends the trouble; {minutes(remedy.minutes)}"
    if chance < LIKELY:
        text = f"This is a try: {text[0].lower()}{text[1:]}"
    if not planner.deciding:
        return f"{text}; no check that is left would change what is done."
    if other is not None and other[0] == "check":
        more = minutes(max(other[2] - suggestion.expected_cost, 0.0))
        return f"{text}; looking further first would cost {more} more on average."
    return f"{text}, the cheapest way on from here."


def why_before(planner: Planner, remedy: str) -> str:
    """Why something is asked before a remedy: it may not be the thing to do, or not alone."""
    title = planner.trees.remedies[remedy].title
    fixes = next(repair.fixes for repair in planner.remedies if repair.remedy.id == remedy)
    return f"'{title}' comes next ({percent(fixes)} chance that it ends the trouble); this tells whether it is right."


def absent(trees: Trees, step: Task, people: Collection[str]) -> str:
    """``needs an electrician, who is not here``, in a few words; ``""`` where one of ``people`` may do the step."""
    name = needed(trees, step, people)
    if not name:
        return ""
    article = "" if name.startswith("the ") else "an " if name[:1].lower() in "aeiou" else "a "
    return f"needs {article}{name}, who is not here"


def needed(trees: Trees, step: Task, people: Collection[str]) -> str:
    """Who would have to come for a step (``electrician``); ``""`` where one of ``people`` may do it."""
    if step.who in can_do(trees, people):
        return ""
    title = trees.people[step.who].title if step.who in trees.people else step.who
    # What a person is for, in brackets behind the title, is not said again each time.
    return title.partition(" (")[0]


def why_named(planner: Planner, reason: str) -> str:
    """Why asking ends, where only the cause was asked for."""
    belief = planner.standing.belief.causes()
    leader = int(np.argmax(belief))
    cause = planner.standing.situation.causes[leader]
    named = f"{_quoted(planner.trees, cause)} is {percent(float(belief[leader]))} likely"
    if reason == FOUND:
        return f"{named}."
    return f"{named}, and nothing that may still be asked would put another cause first."


def why_stop(planner: Planner) -> str:
    """Why nothing here is worth doing any more."""
    belief = planner.standing.belief.causes()
    unlisted = float(belief[-1])
    if unlisted >= 0.5:
        return f"This does not look like anything I know ({percent(unlisted)}). Pass it on to someone who knows more."
    return "No check or repair that may be done here is worth its cost now. Pass it on with what was found."


def mind_changers(planner: Planner, most: int = 3) -> list[str]:
    """What would change your mind: answers still to be had that would put another cause first."""
    trees = planner.trees
    belief = planner.standing.belief.causes()
    causes = planner.standing.situation.causes
    first = causes[int(np.argmax(belief))]
    turns = [
        (c.chance, candidate, c)
        for candidate in planner.candidates
        for c in consequences(planner, candidate)
        if c.cause != first and c.chance > 0.01
    ]
    turns.sort(key=lambda turn: (-turn[0], turn[1].way.goal))
    said: dict[str, str] = {}
    for chance, candidate, consequence in turns:
        text = trees.checks[candidate.way.goal].text
        said.setdefault(
            candidate.way.goal,
            f"{text} '{consequence.answer}' ({percent(chance)}) would point to "
            f"{_quoted(trees, consequence.cause)} ({percent(consequence.probability)}).",
        )
    return list(said.values())[:most]


def suggestion_minutes(planner: Planner, candidate: Candidate) -> float:
    """Minutes of a check and all that comes before it, changes of state included."""
    return candidate.minutes + candidate.entry


def _present(weights: Array, first: Indices, second: Indices, count: int) -> Array:
    present = np.bincount(first, weights, count).astype(float)
    paired = second >= 0
    result: Array = present + np.bincount(second[paired], weights[paired], count)
    return result


def _quoted(trees: Trees, cause: str) -> str:
    return f"“{cause_title(trees, cause)}”"
