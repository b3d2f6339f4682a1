"""A lamp's chain: who is suspected by what is lost, and which checks mean nothing then."""

from __future__ import annotations

from pathlib import Path

import msgspec
import pytest

from diagnose import Call
from diagnose.knowledge.model import Trees
from diagnose.reasoning.situation import make_situation
from diagnose.review.undecided import undecided
from tests.knowledge import overlay

DOOR = {"mounting": "wall", "fitted": ("lamp",)}
CHAIN = {
    "functions": {
        "fed": {"title": "The socket is fed"},
        "passes": {"title": "The socket passes current", "needs": ["fed"]},
        "lit": {"title": "The lamp is lit", "needs": ["passes"]},
        "timed": {"title": "It is lit at the right hour"},
    },
    "causes": {
        "bulb-failed": {"takes": {"lit": "lost"}},
        "fuse-blown": {"takes": {"fed": "lost"}},
        "socket-corroded": {"takes": {"passes": "weak"}},
    },
    "checks": {
        "glass-looks": {"shows": ["lit"]},
        "socket-volts": {"shows": ["fed"]},
        "socket-looks": {"shows": ["passes"]},
    },
    "symptoms": {"dark": {"lacks": ["lit"]}},
}


@pytest.fixture
def trees(tmp_path: Path) -> Trees:
    return overlay.book(tmp_path, CHAIN).trees


def without(trees: Trees, *causes: str, **changes: object) -> Trees:
    """The same, these causes not named by the complaint."""
    named = {cause: chance for cause, chance in trees.symptoms["dark"].causes.items() if cause not in causes}
    dark = msgspec.structs.replace(trees.symptoms["dark"], causes=named, **changes)
    return msgspec.structs.replace(trees, symptoms={"dark": dark})


def test_what_takes_away_what_is_lacking_is_suspected_at_a_low_chance(trees: Trees) -> None:
    situation = make_situation(without(trees, "fuse-blown"), DOOR, ["dark"])
    assert set(situation.causes) == {"bulb-failed", "socket-corroded", "fuse-blown", "unlisted"}
    chances = dict(zip(situation.causes, situation.complaint, strict=True))
    assert chances["fuse-blown"] == pytest.approx(trees.costs.implied_cause)
    assert chances["bulb-failed"] == pytest.approx(0.75)
    rates = [trees.causes[cause].base * chances[cause] for cause in situation.causes[:-1]]
    assert situation.prior[:-1] == pytest.approx([0.97 * rate / sum(rates) for rate in rates])


def test_what_the_complaint_keeps_is_not_lost_by_a_suspect(trees: Trees) -> None:
    fed = without(trees, "fuse-blown", "socket-corroded", keeps=("fed",))
    assert make_situation(fed, DOOR, ["dark"]).causes == ("bulb-failed", "socket-corroded", "unlisted")


def test_what_is_never_behind_a_complaint_stays_out(trees: Trees) -> None:
    kept_out = without(trees, "fuse-blown", never=("fuse-blown",))
    assert "fuse-blown" not in make_situation(kept_out, DOOR, ["dark"]).causes


def test_a_cause_of_doors_that_never_have_the_complaint_stays_out(trees: Trees) -> None:
    on_walls = without(trees, "fuse-blown", applies={"mounting": ("wall",), "fitted": ("lamp",)})
    for conditions, suspected in (
        ({"mounting": ("post",)}, False),
        ({"mounting": ("wall",)}, True),
        ({"fitted": ("horn",)}, True),
    ):
        there = {**trees.causes, "fuse-blown": msgspec.structs.replace(trees.causes["fuse-blown"], applies=conditions)}
        situation = make_situation(msgspec.structs.replace(on_walls, causes=there), {}, ["dark"])
        assert ("fuse-blown" in situation.causes) is suspected


def test_how_it_is_lacking_decides_who_is_suspected(trees: Trees) -> None:
    dim = without(trees, "bulb-failed", "fuse-blown", "socket-corroded", lacks={"lit": "weak"})
    assert make_situation(dim, DOOR, ["dark"]).causes == ("socket-corroded", "unlisted")


def test_a_function_that_this_door_has_not_hands_nothing_down(trees: Trees) -> None:
    passes = msgspec.structs.replace(trees.functions["passes"], applies={"mounting": ("post",)})
    cut = msgspec.structs.replace(without(trees, "fuse-blown"), functions={**trees.functions, "passes": passes})
    assert "fuse-blown" not in make_situation(cut, DOOR, ["dark"]).causes
    assert "fuse-blown" in make_situation(cut, {**DOOR, "mounting": "post"}, ["dark"]).causes


def wanting(trees: Trees, check: str, *functions: str) -> Trees:
    changed = msgspec.structs.replace(trees.checks[check], wants=functions)
    digest = f"{trees.digest}, {check} wants {functions}"
    return msgspec.structs.replace(trees, checks={**trees.checks, check: changed}, digest=digest)


def goals(call: Call) -> set[str]:
    return {candidate.way.goal for candidate in call.planner.candidates}


def test_a_check_that_wants_what_the_complaint_lacks_comes_back_with_the_repair(trees: Trees) -> None:
    trees = wanting(trees, "socket-looks", "lit")
    call = Call(trees, DOOR, ["dark"])
    assert "socket-looks" not in goals(call)
    call.tried("new-bulb", worked=False)
    assert "socket-looks" not in goals(call)
    call.tried("new-fuse", worked=True)
    assert "socket-looks" in goals(call)


def test_what_a_complaint_leaves_untried_keeps_checks_out_and_points_to_no_cause(trees: Trees) -> None:
    trees = without(wanting(trees, "socket-looks", "passes"), lacks={"timed": "lost"})
    call = Call(trees, DOOR, ["dark"])
    assert "socket-looks" in goals(call)
    trees = without(wanting(trees, "socket-looks", "lit"), untried=("fed",))
    untried = Call(trees, DOOR, ["dark"])
    assert "socket-looks" not in goals(untried)
    assert untried.situation.causes == call.situation.causes


def test_what_a_complaint_tells_is_not_asked_and_points_to_no_cause(trees: Trees) -> None:
    call = Call(trees, DOOR, ["dark"])
    assert "socket-looks" in goals(call)
    telling = msgspec.structs.replace(without(trees, told=("socket-looks",)), digest=f"{trees.digest}, told")
    told = Call(telling, DOOR, ["dark"])
    assert goals(told) == goals(call) - {"socket-looks"}
    assert told.situation.causes == call.situation.causes


def test_a_check_that_wants_what_an_answer_shows_lost_is_not_asked(trees: Trees) -> None:
    trees = wanting(trees, "socket-looks", "fed")
    call = Call(trees, DOOR, ["dark"])
    assert "socket-looks" in goals(call)
    call.answer("fuse-ohms", "OL")
    call.answer("socket-volts", "0.1 V")
    assert call.likely()[0].cause == "fuse-blown" and "socket-looks" not in goals(call)


def test_what_nobody_has_decided_is_listed_once_and_goes_when_it_is(trees: Trees, tmp_path: Path) -> None:
    pairs = {(pair.cause, pair.check) for pair in undecided(trees)}
    # A blown fuse takes what all three show, and says something of the volts alone.
    assert pairs == {("fuse-blown", "glass-looks"), ("fuse-blown", "socket-looks"), ("socket-corroded", "glass-looks")}
    assert {pair.cause for pair in undecided(trees, ["fuse-blown"])} == {"fuse-blown"}
    decided = {
        "causes": {
            "fuse-blown": {"as-sound": ["glass-looks", "socket-looks"]},
            "socket-corroded": {"signs": {"glass-looks": {"black": "rare"}}},
        }
    }
    assert undecided(overlay.book(tmp_path, overlay.laid_over(CHAIN, decided)).trees) == ()


def test_what_hurts_most_comes_first(trees: Trees) -> None:
    pairs = undecided(trees)
    assert [pair.cause for pair in pairs] == ["fuse-blown", "fuse-blown", "socket-corroded"]
    assert pairs[0].harm >= pairs[1].harm > 0


def test_what_cannot_be_done_with_the_cause_there_need_not_be_decided(trees: Trees) -> None:
    assert ("fuse-blown", "glass-looks") not in {
        (pair.cause, pair.check) for pair in undecided(wanting(trees, "glass-looks", "fed"))
    }
