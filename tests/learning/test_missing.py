"""Answers that are missing because the planner did not ask: counted rightly, and how far off the tempting ways are."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import pytest

from diagnose.knowledge.distributions import Shares
from diagnose.knowledge.model import Trees
from diagnose.learning.estimates import without_slips
from diagnose.reasoning.situation import Situation, make_situation

FACTS = {"devices": ("photo-eye",), "drive": "trolley"}
# A planner that looks at the splice where the lamp is dark, and at the lens where it blinks.
NEXT = {"dark": "splice-looks", "blinking": "lens-clean", "steady": "lens-clean"}
CALLS = 6000


@dataclass
class Played:
    """A simulated call: the true cause, what was asked and answered, and which cause then led."""

    cause: str
    answers: dict[str, str] = field(default_factory=dict)
    leading: str = ""


def shown(trees: Trees, cause: str, check: str) -> dict[str, float]:
    spread = trees.causes[cause].signs.get(check, trees.checks[check].healthy)
    assert isinstance(spread, Shares)
    return spread.shares


def answered(trees: Trees, random: np.random.Generator, cause: str, check: str) -> str:
    """What is taken down: as the cause has it, but for a slip of the reader, which is any answer alike."""
    shares = shown(trees, cause, check)
    if random.random() < trees.costs.slip:
        return str(random.choice(list(shares)))
    return str(random.choice(list(shares), p=list(shares.values())))


@pytest.fixture(scope="module")
def situation() -> Situation:
    from tests.conftest import SMALL, load_trees

    return make_situation(load_trees(SMALL, cache=False), FACTS, ["eye-lamp-wrong"])


@pytest.fixture(scope="module")
def calls(situation: Situation) -> list[Played]:
    trees, random = situation.trees, np.random.default_rng(11)
    known = situation.causes[:-1]
    prior = situation.prior[:-1] / situation.prior[:-1].sum()
    made = []
    for _ in range(CALLS):
        call = Played(str(random.choice(known, p=prior)))
        lamp = answered(trees, random, call.cause, "eye-lamp-receiver")
        call.answers["eye-lamp-receiver"] = lamp
        call.answers[NEXT[lamp]] = answered(trees, random, call.cause, NEXT[lamp])
        belief = situation.prior[:-1].copy()
        for check, answer in call.answers.items():
            table = situation.tables[check]
            belief *= table.row(table.answers.index(answer))[:-1]
        call.leading = known[int(np.argmax(belief))]
        made.append(call)
    return made


def counted(calls: list[Played], cause: str, check: str, by: str = "cause") -> dict[str, int]:
    counts: dict[str, int] = {}
    for call in calls:
        if getattr(call, by) == cause and check in call.answers:
            counts[call.answers[check]] = counts.get(call.answers[check], 0) + 1
    return counts


# Under a dead eye the splice is looked at in most calls, under a dirty lens the lens; each is seldom asked elsewhere.
PAIRS = [
    ("eye-wiring-open", "splice-looks", "green or loose"),
    ("eye-lens-dirty", "lens-clean", "dirty or wet"),
    ("eye-out-of-line", "splice-looks", "green or loose"),
    ("eye-dead", "lens-clean", "dirty or wet"),
]


@pytest.mark.parametrize(("cause", "check", "answer"), PAIRS)
def test_among_calls_in_which_it_was_put_an_answer_is_met_as_often_as_it_is_likely(
    situation: Situation, calls: list[Played], cause: str, check: str, answer: str
) -> None:
    trees = situation.trees
    even = dict.fromkeys(shown(trees, cause, check), 1 / len(shown(trees, cause, check)))
    counts = counted(calls, cause, check)
    found = without_slips(even, 1.0, counts, trees.costs.slip)[answer]
    true, n = shown(trees, cause, check)[answer], sum(counts.values())
    assert abs(found - true) < 3.5 * np.sqrt(true * (1 - true) / n) + 2 / n


def test_counting_what_was_not_asked_as_not_there_is_far_off(situation: Situation, calls: list[Played]) -> None:
    cause, check, answer = PAIRS[1]
    all_of_it = sum(call.cause == cause for call in calls)
    tempting = counted(calls, cause, check)[answer] / all_of_it
    assert tempting < shown(situation.trees, cause, check)[answer] - 0.15


def test_counting_by_the_cause_that_led_finds_the_programs_opinion_confirmed(
    situation: Situation, calls: list[Played]
) -> None:
    cause, check, answer = PAIRS[0]
    true = shown(situation.trees, cause, check)[answer]
    by_lead = counted(calls, cause, check, by="leading")
    assert by_lead[answer] / sum(by_lead.values()) > true + 0.05
