"""A lamp's chain, and those of the doors: which links work, where the fault lies, and what splits the chain."""

from __future__ import annotations

from pathlib import Path

import pytest

from diagnose import Call
from diagnose.calls.verdict import chain_now
from diagnose.knowledge.functions import chain_of, chain_order
from diagnose.knowledge.model import Trees
from diagnose.reasoning.chain import causes_at, drawn, place_of, split, whereabouts
from tests.knowledge import overlay
from tests.reasoning.test_suspects import CHAIN, DOOR


@pytest.fixture
def trees(tmp_path: Path) -> Trees:
    return overlay.book(tmp_path, CHAIN).trees


def test_links_stand_after_what_they_need_and_only_those_the_complaint_hangs_on(trees: Trees) -> None:
    assert [link.function for link in chain_now(Call(trees, DOOR, ["dark"]))] == ["fed", "passes", "lit"]


def test_the_chances_along_the_chain_are_those_of_the_causes(trees: Trees) -> None:
    call = Call(trees, DOOR, ["dark"])
    chain = chain_now(call)
    chances = {each.cause: each.probability for each in call.likely()}
    at = {link.function: link.here for link in chain}
    expected = {"fed": "fuse-blown", "passes": "socket-corroded", "lit": "bulb-failed"}
    assert at == pytest.approx({function: chances[cause] for function, cause in expected.items()})
    assert sum(at.values()) == pytest.approx(1 - chances["unlisted"])
    lost = {link.function: link.lost for link in chain}
    assert lost["fed"] == pytest.approx(chances["fuse-blown"])
    assert lost["passes"] == pytest.approx(chances["fuse-blown"] + chances["socket-corroded"])
    assert chain[-1].state == "lost"


def test_works_is_said_only_of_what_was_looked_at(trees: Trees) -> None:
    call = Call(trees, DOOR, ["dark"])
    assert "Known to work" not in " ".join(whereabouts(chain_now(call)))
    call.answer("socket-volts", "24 V")
    states = {link.function: link.state for link in chain_now(call)}
    assert states["fed"] == "works" and states["lit"] == "lost"
    assert whereabouts(chain_now(call))[0] == "Known to work: The socket is fed."


def test_a_check_splits_the_chain_where_it_shows_it(trees: Trees) -> None:
    call = Call(trees, DOOR, ["dark"])
    chain = chain_now(call)
    fed = next(link.here for link in chain if link.function == "fed")
    told = split(call.situation, chain, trees.checks["socket-volts"])
    assert told.startswith("It splits the chain at 'The socket is fed'") and f"{round(100 * fed)} %" in told
    assert split(call.situation, chain, trees.checks["fuse-ohms"]) == ""
    call.answer("socket-volts", "24 V")
    # What is known splits nothing any more.
    assert split(call.situation, chain_now(call), trees.checks["socket-volts"]) == ""


def test_a_cause_has_its_place_and_a_complaint_without_functions_has_none(trees: Trees) -> None:
    assert place_of(trees, DOOR, ["dark"], "socket-corroded") == "fed ✓ › [passes ✗] › lit ✗"
    sound = Call(trees, DOOR, ["dark"])
    sound.answer("socket-volts", "24 V")
    chain = chain_now(sound)
    assert drawn(chain).count("›") == 2
    assert drawn(chain, 40) == "fed ✓ › passes · › lit ✗ 96 %"
    assert drawn(chain, 28) == "fed to passes · › lit ✗ 96 %"


def test_every_complaint_of_the_shipped_trees_has_a_chain_in_order(shipped_trees: Trees) -> None:
    whole = chain_of(shipped_trees)
    for symptom in shipped_trees.symptoms.values():
        order = chain_order(shipped_trees, whole, [symptom.id])
        assert set(symptom.lacks) <= set(order), symptom.id
        for place, name in enumerate(order):
            assert not set(shipped_trees.functions[name].needs) & set(order[place + 1 :]), (symptom.id, name)


@pytest.mark.parametrize("symptom", ["hums-does-not-move", "dead-no-response", "limits-drift"])
def test_shares_never_sum_to_more_than_one_and_every_cause_stands_once(shipped_trees: Trees, symptom: str) -> None:
    call = Call(shipped_trees, {"drive": "jackshaft", "devices": ("wall-station",)}, [symptom])
    chain = chain_now(call)
    assert 0.5 < sum(link.here for link in chain) <= 1 + 1e-9
    named = [cause for each in causes_at(call.situation, chain, call.inference.belief).values() for cause, _ in each]
    assert named and len(named) == len(set(named))
