"""What one is told makes things rarer, and rules nothing out."""

from __future__ import annotations

import pytest

from diagnose.screening.hearsay import chances, doubts, phone_inference, phone_situation
from tests.screening.conftest import Begin


def priors(situation: object) -> dict[str, float]:
    return dict(zip(situation.causes, (float(p) for p in situation.prior), strict=True))  # type: ignore[attr-defined]


def test_a_cause_that_the_door_rules_out_is_rarer_by_a_slip(begin: Begin) -> None:
    with_network = begin("will-not-move", facts={"devices": ("network",)})
    without = begin("will-not-move", facts={"devices": ("eye",)})
    assert "network-down" not in without.situation.causes
    there, not_there = priors(phone_situation(with_network)), priors(phone_situation(without))
    odds = there["network-down"] / there["fuse-blown"]
    assert not_there["network-down"] / not_there["fuse-blown"] == pytest.approx(odds * 0.12)
    assert sum(not_there.values()) == pytest.approx(1.0)


def test_said_twice_it_is_doubted_less(begin: Begin) -> None:
    call = begin("will-not-move")
    call.state_fact("height", "low")
    assert doubts(call) == {"height": pytest.approx(0.12)}
    call.state_fact("height", "low")
    assert doubts(call) == {"height": pytest.approx(0.12**2 / (0.12**2 + 0.88**2))}
    call.state_fact("height", "")
    assert doubts(call) == {}


def test_a_complaint_may_be_another_of_its_family(begin: Begin) -> None:
    call = begin("will-not-move", facts={"devices": ("network",)})
    assert "track-bent" not in call.situation.causes
    found = priors(phone_situation(call))
    # Base rate times P(it is heard): 40 per 1000 · (0.88 · 0.75 + 0.12 · 0.75), and 10 · (0.88 · 0 + 0.12 · 0.75).
    assert found["track-bent"] / found["spring-broken"] == pytest.approx((10 * 0.12 * 0.75) / (40 * 0.75))
    assert found["fuse-blown"] / found["spring-broken"] == pytest.approx((40 * 0.88 * 0.75) / (40 * 0.75))


def test_answers_are_weighed_as_at_the_door_over_more_suspects(begin: Begin) -> None:
    call = begin("will-not-move", facts={"devices": ("network",)})
    call.answer("lamp", "dark", heard="told")
    inference = phone_inference(call)
    belief = dict(zip(inference.situation.causes, chances(inference), strict=True))
    prior = priors(phone_situation(call))
    assert sum(belief.values()) == pytest.approx(1.0)
    # lamp: dark in 0.98 of doors with a blown fuse and 0.02 of those with a broken spring, a caller's slip counted in.
    ratio = (0.88 * 0.98 + 0.06) / (0.88 * 0.02 + 0.06)
    assert belief["fuse-blown"] / belief["spring-broken"] == pytest.approx(
        prior["fuse-blown"] / prior["spring-broken"] * ratio
    )
