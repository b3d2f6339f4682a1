"""Nobody leaves open what a check shows of a cause that functions relate it to."""

from __future__ import annotations

import msgspec

from diagnose.knowledge.model import Trees
from diagnose.review.undecided import undecided


def test_every_pair_of_the_trees_that_ship_is_decided(shipped_trees: Trees) -> None:
    assert [(pair.cause, pair.check) for pair in undecided(shipped_trees)] == []


def test_a_sign_taken_away_leaves_its_pair_open(shipped_trees: Trees) -> None:
    cause = next(cause for cause in shipped_trees.causes.values() if cause.as_sound)
    causes = {**shipped_trees.causes, cause.id: msgspec.structs.replace(cause, as_sound=())}
    changed = msgspec.structs.replace(shipped_trees, causes=causes, digest=f"{shipped_trees.digest} undecided")
    assert {pair.check for pair in undecided(changed)} & set(cause.as_sound)
