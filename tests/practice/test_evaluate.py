"""Simulated calls and the figures drawn from them: repeatable, honest, and able to show a difference."""

from __future__ import annotations

import numpy as np
import pytest

from diagnose.calls.call import Call
from diagnose.knowledge.model import UNLISTED, Trees
from diagnose.practice.evaluate import diagnose_only, evaluate, mean, report, share, without_cause
from diagnose.practice.hidden_door import HiddenDoor
from diagnose.practice.simulated import POLICIES, SimulatedCall, draw_door, draw_facts

SYMPTOM = "eye-lamp-wrong"


def test_the_same_seed_gives_the_same_call(small_trees: Trees) -> None:
    for name, policy in POLICIES.items():
        draw = draw_door(small_trees, np.random.default_rng(5), SYMPTOM)
        one, other = (SimulatedCall(small_trees, draw, 5).run(policy) for _ in range(2))
        assert one == other, name


def test_what_one_finds_does_not_hang_on_what_else_was_looked_at(small_trees: Trees) -> None:
    """Policies are compared on the same door: its truths are the same whatever is asked first."""
    facts = {"devices": ("photo-eye",)}
    checks = [small_trees.checks[c] for c in ("eye-lamp-receiver", "eye-volts-far-end", "impact", "lens-clean")]
    forward = HiddenDoor(small_trees, facts, {"eye-wiring-open"}, 3)
    backward = HiddenDoor(small_trees, facts, {"eye-wiring-open"}, 3)
    assert [forward.truth(c) for c in checks] == [backward.truth(c) for c in reversed(checks)][::-1]


def test_a_repair_changes_the_door(small_trees: Trees) -> None:
    door = HiddenDoor(small_trees, {"devices": ("photo-eye",)}, {"eye-lens-dirty"}, 1, slips=False)
    assert not door.try_remedy("realign-eyes")
    assert any(door.try_remedy("clean-lenses") for _ in range(5))
    assert not door.faults


def test_facts_are_drawn_within_what_is_asked(small_trees: Trees) -> None:
    for seed in range(20):
        facts = draw_facts(small_trees, np.random.default_rng(seed), {"devices": ("photo-eye",), "drive": ("hoist",)})
        assert facts["drive"] == "hoist" and "photo-eye" in facts["devices"]
        assert facts["fire-rated"] == "no"


def test_a_cause_taken_out_is_gone_everywhere(small_trees: Trees) -> None:
    less = without_cause(small_trees, "eye-dead")
    assert "eye-dead" not in less.causes
    assert all("eye-dead" not in symptom.causes for symptom in less.symptoms.values())
    assert less.digest != small_trees.digest


def test_evaluation_prints_every_figure_and_can_tell_policies_apart(small_trees: Trees) -> None:
    found = evaluate(small_trees, 24, 2)
    text = report(found)
    for said in ("right cause first", "Brier", "calibration error", "unlisted leads", "wasted parts", "Two faults"):
        assert said in text
    assert set(found.policies) == set(POLICIES)
    own = np.mean([o.minutes for o in found.policies["the program"]])
    blind = np.mean([o.minutes for o in found.policies["probability over cost, no checks"]])
    assert own < blind
    assert found.shares()["right first"].value > 0.8
    assert any(d.draw.faults == (UNLISTED,) for d in found.with_unlisted)


def test_one_wrong_answer_is_really_wrong(small_trees: Trees) -> None:
    draw = draw_door(small_trees, np.random.default_rng(8), SYMPTOM)
    right, wrong = (diagnose_only(small_trees, draw, 8, wrong=number) for number in (99, 0))
    assert right.probabilities != wrong.probabilities


def test_intervals_hold_their_value_and_narrow_with_more_cases() -> None:
    few, many = share([True] * 8 + [False] * 2), share([True] * 80 + [False] * 20)
    assert few.low < 0.8 < few.high and many.low > few.low and many.high < few.high
    # Wilson's interval for 8 of 10, from the formula by hand.
    assert (few.low, few.high) == pytest.approx((0.4902, 0.9433), abs=1e-3)
    assert mean([1.0, 2.0, 3.0]).value == pytest.approx(2.0)


def test_everybody_whom_the_trees_know_is_at_hand_in_simulated_calls(shipped_trees: Trees) -> None:
    draw = draw_door(shipped_trees, np.random.default_rng(1), SYMPTOM)
    assert set(SimulatedCall(shipped_trees, draw, 1).call.state.people) == set(shipped_trees.people)


def test_no_door_is_drawn_that_the_program_refuses_to_serve(shipped_trees: Trees) -> None:
    random = np.random.default_rng(7)
    for symptom in shipped_trees.symptoms:
        facts = draw_door(shipped_trees, random, symptom).facts
        assert Call(shipped_trees, facts, [symptom]).refusal() == "", facts
