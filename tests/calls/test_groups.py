"""Findings of one group see the same thing: the most telling one that was found counts, and a weaker takes nothing."""

from __future__ import annotations

import itertools
from functools import cache

import numpy as np
import pytest

from diagnose import Call
from diagnose.calls.call import CallError
from diagnose.reasoning.situation import make_situation
from tests.conftest import read_shipped


@cache
def chances(symptom: str, *answers: tuple[str, str]) -> dict[str, float]:
    call = Call(read_shipped().trees, {}, [symptom])
    for check, answer in answers:
        call.answer(check, answer)
    return {item.cause: item.probability for item in call.likely()}


def test_a_gap_in_a_spring_stays_whatever_is_said_of_letting_the_door_go() -> None:
    gap, no = ("springs-look", "gap in a coil"), ("safe-to-release", "no")
    seen = chances("heavy-by-hand", gap)["spring-broken"]
    assert seen > 0.9
    for order in ((gap, no), (no, gap)):
        assert chances("heavy-by-hand", *order)["spring-broken"] == pytest.approx(seen, abs=1e-9)


def test_a_second_finding_of_a_group_leaves_the_first_or_says_more() -> None:
    """Over every two questions of a group and all their answers, in both orders: what is believed is what the one or
    the other says alone, whichever moves belief further."""
    trees, tried = read_shipped().trees, 0
    groups: dict[str, list[str]] = {}
    for check in trees.checks.values():
        if check.group and check.answers and check.kind == "question" and not check.after:
            groups.setdefault(check.group, []).append(check.id)
    for symptom in trees.symptoms:
        tables = make_situation(trees, {}, [symptom]).tables
        for names in groups.values():
            for one, other in itertools.combinations([name for name in names if name in tables], 2):
                for first, second in itertools.product(trees.checks[one].answers[:2], trees.checks[other].answers[:2]):
                    try:
                        alone = [chances(symptom, (one, first)), chances(symptom, (other, second))]
                        both = [
                            chances(symptom, (one, first), (other, second)),
                            chances(symptom, (other, second), (one, first)),
                        ]
                    except CallError:
                        continue
                    for believed in both:
                        off = [max(abs(believed[c] - each[c]) for c in believed) for each in alone]
                        assert np.min(off) < 1e-9, (symptom, one, first, other, second)
                    tried += 1
            if tried > 40:
                return
    assert tried > 20
