"""The causes that come first of a complaint, before anything is known of the door: for a veteran to nod or laugh at."""

from __future__ import annotations

from typing import NamedTuple

from diagnose.knowledge.model import UNLISTED, Trees
from diagnose.reasoning.situation import make_situation


class Common(NamedTuple):
    """A cause of a complaint: its share of the calls with it, its base rate, and where its numbers come from."""

    cause: str
    title: str
    share: float
    base: float
    source: str


def commonest(trees: Trees, symptom: str, most: int = 10) -> tuple[Common, ...]:
    """The ``most`` likeliest causes of ``symptom``, of all doors that can have it, as a call begins."""
    situation = make_situation(trees, {}, [symptom])
    shares = dict(zip(situation.causes, situation.prior / situation.prior.sum(), strict=True))
    named = sorted((name for name in shares if name != UNLISTED), key=lambda name: -shares[name])
    causes = (trees.causes[name] for name in named[:most])
    return tuple(Common(each.id, each.title, float(shares[each.id]), each.base, each.source) for each in causes)
