"""Two checks that see one state of a door agree: a cause that changes the one in the trees that ship changes the other.

A sign that is written for one of them alone lets a sound answer to the other speak against the true cause.
"""

import pytest

from diagnose.knowledge.distributions import Shares
from diagnose.knowledge.model import Trees

# Check, the answer or anything abnormal of it, and the check that shows the same.
SAME_STATE = [
    ("direction-which", "neither", "position-known"),
    ("gfci-state", "tripped", "gfci-load-volts"),
    ("control-volts", None, "control-volts-pulled"),
    ("breaker-state", "off or tripped", "line-side-volts"),
    ("impact", "hit or fresh marks", "what-was-hit"),
    ("coasts-which-way", "downward only", "last-stops"),
    ("coasts-which-way", "both alike", "last-stops"),
    ("closed-how", "sinks without the motor", "coasts-which-way"),
    ("stops-where", "always the same wrong place", "position-known"),
    ("stops-where", "wanders both ways", "position-known"),
    ("stops-where", "always the same wrong place", "stop-error-both-ends"),
    ("stops-where", "does not stop by itself", "position-known"),
    ("seal-and-floor", "gap all along", "gap-since"),
    ("seal-and-floor", "gap under part of it", "gap-since"),
    ("motor-sound", "silent", "contactor-action"),
]


@pytest.mark.parametrize(("one", "answer", "other"), SAME_STATE)
def test_a_cause_that_changes_one_of_two_checks_of_the_same_state_says_something_of_the_other(
    one: str, answer: str | None, other: str, shipped_trees: Trees
) -> None:
    lonely = []
    for cause in shipped_trees.causes.values():
        sign = cause.signs.get(one)
        if sign is None or other in cause.signs or other in cause.as_sound:
            continue
        if answer is None or (isinstance(sign, Shares) and sign.shares.get(answer, 0) >= 0.2):
            lonely.append(cause.id)
    assert lonely == []


def test_what_comes_with_a_new_installation_may_always_have_been_so(shipped_trees: Trees) -> None:
    """Who was there from the first day says so; the sign of a sudden beginning would refute the true cause."""
    lonely = []
    for cause in shipped_trees.causes.values():
        work, began = cause.signs.get("recent-work"), cause.signs.get("how-it-began")
        if not isinstance(work, Shares) or work.shares.get("new installation", 0) < 0.2:
            continue
        if not isinstance(began, Shares) or began.shares.get("always was so", 0) < 0.1:
            lonely.append(cause.id)
    assert lonely == []
