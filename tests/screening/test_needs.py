"""What ending a fault takes, reckoned by hand on four faults."""

from __future__ import annotations

import numpy as np
import pytest

from diagnose.knowledge.model import Trees, Van, chance_of, holds
from diagnose.screening.needs import SECOND_PERSON, Need, Needs, first_van, usual_remedies

CAUSES = ("spring-broken", "fuse-blown", "board-dead", "network-down", "unlisted")


def by_id(needs: tuple[Need, ...]) -> dict[str, list[float]]:
    return {need.id: [round(float(chance), 4) for chance in need.chance] for need in needs}


def test_remedies_are_tried_by_chance_over_cost(dock: Trees) -> None:
    # 0.6 in 30 min against 0.9 in 80 min by two with 96 $ at 1.6 $/min, 220 min in all: the straightening comes first.
    shares = usual_remedies(dock, "track-bent", {})
    assert shares == pytest.approx({"straighten": 0.6 / 0.96, "new-track": 0.36 / 0.96})


def test_who_must_come_and_how_many(dock: Trees, van: Van) -> None:
    needs = Needs(dock, CAUSES, {}, van)
    assert by_id(needs.people) == {
        "door technician": [1, 0, 0, 0, 0],
        "electrician": [0, 0, 1, 0, 0],
        "site network contact": [0, 0, 0, 1, 0],
    }
    assert by_id(needs.second_person) == {SECOND_PERSON: [1, 0, 0, 0, 0]}
    assert {need.id: need.for_nothing for need in needs.people} == {
        "door technician": 10,
        "electrician": 24,
        "site network contact": 5,
    }


def test_a_proof_that_this_door_always_needs_brings_its_inspector(dock: Trees, van: Van) -> None:
    assert by_id(Needs(dock, CAUSES, {"fire": "yes"}, van).people)["inspector"] == [1, 1, 1, 1, 1]
    assert "inspector" not in by_id(Needs(dock, CAUSES, {"fire": "no"}, van).people)
    # Not known to be one: nobody is sent for what may not be there.
    assert "inspector" not in by_id(Needs(dock, CAUSES, {}, van).people)


def test_a_lift_is_needed_where_the_ladder_of_the_van_is_too_short(dock: Trees, van: Van) -> None:
    assert by_id(Needs(dock, CAUSES, {"height": "low"}, van).places) == {}
    assert by_id(Needs(dock, CAUSES, {"height": "high"}, van).places) == {"lift": [1, 0, 0, 0, 0]}
    assert by_id(Needs(dock, CAUSES, {}, van).places) == {"lift": [0.5, 0, 0, 0, 0]}
    doubted = Needs(dock, CAUSES, {"height": "low"}, van, {"height": 0.1})
    assert by_id(doubted.places) == {"lift": [0.1, 0, 0, 0, 0]}


def test_needs_taken_over_from_a_door_much_like_it_are_its_own(shipped: Trees) -> None:
    """Whatever a fact turns out to be that remedies hang on, or that none does, and when it is open again."""
    van, remedies = first_van(shipped), shipped.remedies
    hang = {cause.id: {f for r in cause.remedies for f in remedies[r].applies} for cause in shipped.causes.values()}
    causes = (*(c for n, c in enumerate(hang) if hang[c] or n % 20 == 0), "unlisted")
    differ = 0
    for fact in {"construction", *set().union(*hang.values())}:
        for answer in shipped.facts[fact].answers:
            for one, other in (({}, {fact: answer}), ({fact: answer}, {})):
                near, own = Needs(shipped, causes, one, van), Needs(shipped, causes, other, van)
                taken = Needs(shipped, causes, other, van, near=near)
                assert taken.remedies == own.remedies
                for a, b in zip(taken.all, own.all, strict=True):
                    assert (a.kind, a.id, a.without, a.for_nothing) == (b.kind, b.id, b.without, b.for_nothing)
                    assert np.array_equal(a.chance, b.chance)
                differ += near.remedies != own.remedies or not np.array_equal(near.uses, own.uses)
    assert differ >= 4


def test_chances_of_conditions(dock: Trees) -> None:
    assert chance_of(dock, {}, {}) == 1
    assert chance_of(dock, {"standing": ("usable",)}, {}) == pytest.approx(1 / 3)
    told, doubt = {"standing": "usable"}, {"standing": 0.2}
    assert chance_of(dock, {"standing": ("usable",)}, told, doubt) == pytest.approx(0.8)
    assert chance_of(dock, {"standing": ("stuck open",)}, told, doubt) == pytest.approx(0.1)
    assert chance_of(dock, {"standing": ("usable", "stuck open")}, told, doubt) == pytest.approx(0.9)
    assert not holds({"height": ("low",)}, {})
    assert holds({"height": ("low",)}, {"height": "low"})


def test_it_is_sent_when_being_without_costs_more(dock: Trees, van: Van) -> None:
    need = next(need for need in Needs(dock, CAUSES, {}, van).people if need.id == "door technician")
    threshold = 10 / (10 + 120)
    for chance, sent in ((threshold - 0.001, False), (threshold + 0.001, True)):
        assert need.worth(np.array([chance, 1 - chance, 0, 0, 0])) is sent


def test_the_loss_is_that_of_the_best_decision_of_each_need(dock: Trees, van: Van) -> None:
    needs = Needs(dock, CAUSES, {"height": "low"}, van)
    belief = np.array([0.3, 0.5, 0.1, 0.0, 0.1])
    by_hand = 0.0
    for need in needs.all:
        needed = sum(p * c for p, c in zip(belief, need.chance, strict=True))
        by_hand += min(needed * need.without, (1 - needed) * need.for_nothing)
    assert needs.loss(belief[None])[0] == pytest.approx(by_hand)
    # Half as likely, half the loss: so that answers can be weighted by their chance.
    assert needs.loss(belief[None] / 2)[0] == pytest.approx(by_hand / 2)


def test_vans_by_name(dock: Trees) -> None:
    assert first_van(dock).id == "small van"
    assert first_van(dock, "lorry").id == "lorry"


def test_every_remedy_of_the_shipped_trees_can_be_sent_for(shipped: Trees) -> None:
    for van in shipped.vans.values():
        for person in shipped.people.values():
            assert not person.call_out or person.id in {**van.send, **van.ask}, person.id
        for place in van.beyond.values():
            assert place in van.send
    for cause in shipped.causes:
        assert sum(usual_remedies(shipped, cause, {}).values()) == pytest.approx(1)
