"""The wrong complaint: what was found speaks for another, which is proposed and taken up with nothing lost."""

from __future__ import annotations

from pathlib import Path

import pytest

from diagnose import Call
from diagnose.calls.next_step import HAND_OVER
from diagnose.knowledge.load import compile_trees
from diagnose.knowledge.model import Trees
from diagnose.knowledge.problems import Problems
from diagnose.sitting.cards import card_of
from diagnose.sitting.course import plan
from diagnose.sitting.sitting import Sitting

PACK = """
source: estimate
costs: {unlisted: 0.03, slip: 0.01}
symptoms:
  slow: {title: It runs slowly, caller: Does it run slowly?, causes: {belt-worn: 0.9, oil-thick: 0.9}}
  loud: {title: It is loud, caller: Is it loud?, causes: {bearing-dry: 0.9, guard-loose: 0.9}}
  hot: {title: It is hot, caller: Is it hot?, causes: {oil-thick: 0.9}}
causes:
  belt-worn: {title: Belt worn, base: 0.02, signs: {belt: {thin: 0.98}}, remedies: {new-belt: 0.95}}
  oil-thick: {title: Oil thick, base: 0.02, signs: {oil: {thick: 0.98}}, remedies: {new-oil: 0.95}}
  bearing-dry:
    {title: Bearing dry, base: 0.02, signs: {squeal: {yes: 0.98}, grease: {none left: 0.98}, oil: {thin: 0.98},
     belt: {thick: 0.98}}, remedies: {grease: 0.95}}
  guard-loose: {title: Guard loose, base: 0.02, signs: {squeal: {no: 0.98}}, remedies: {tighten: 0.95}}
checks:
  belt: {ask: "How is the belt?", answers: [thick, thin], healthy: {thick: 0.99, thin: 0.01}, minutes: 2}
  oil: {ask: "How is the oil?", answers: [thin, thick], healthy: {thin: 0.99, thick: 0.01}, minutes: 2}
  squeal: {ask: "Does it squeal?", answers: [no, yes], healthy: {no: 0.99, yes: 0.01}, minutes: 1}
  grease: {ask: "Is there grease?", answers: [enough, none left], healthy: {enough: 0.99, none left: 0.01}, minutes: 1}
remedies:
  new-belt: {title: A new belt, minutes: 20}
  new-oil: {title: New oil, minutes: 20}
  grease: {title: Grease, minutes: 20}
  tighten: {title: Tighten it, minutes: 20}
"""


@pytest.fixture
def pack() -> Trees:
    problems = Problems()
    trees = compile_trees({"pack.yaml": PACK}, "complaints", problems)
    assert trees is not None, [str(problem) for problem in problems]
    return trees


def found(trees: Trees, complaint: str) -> Call:
    call = Call(trees, symptoms=[complaint])
    for check, answer in {"belt": "thick", "oil": "thin", "squeal": "yes", "grease": "none left"}.items():
        call.answer(check, answer)
    return call


def test_answers_that_no_suspect_explains_speak_for_another_complaint(pack: Trees) -> None:
    call = found(pack, "slow")
    assert call.nothing_fits
    (better,) = call.fitting_better()
    assert (better.symptom, better.cause) == ("loud", "bearing-dry")
    assert better.factor > 20 and better.probability > 0.9


def test_where_a_suspect_explains_them_nothing_is_proposed(pack: Trees) -> None:
    assert not found(pack, "loud").fitting_better()
    call = Call(pack, symptoms=["slow"])
    assert not call.fitting_better(), "nothing was found yet"
    call.answer("belt", "thin")
    assert not call.fitting_better()


def test_a_complaint_that_names_the_same_suspects_is_no_better(pack: Trees) -> None:
    assert {each.symptom for each in found(pack, "slow").fitting_better()} == {"loud"}


def test_the_card_proposes_it_and_taking_it_loses_no_answer(pack: Trees, tmp_path: Path) -> None:
    call = found(pack, "slow")
    while (step := call.next_step()).kind != "stop":
        call.tried(step.id, worked=False) if step.kind == "remedy" else call.answer(step.id, "could not tell")
    assert step.id == HAND_OVER
    shown = card_of(call, plan(call))
    assert any("“It is loud”: then “Bearing dry”" in text for _, text in shown.lines)
    choice = next(each for each in shown.choices if each.label == "Take it for: It is loud")
    assert choice.name == "loud"
    before = dict(call.state.answers)
    Sitting(call).choose(shown, choice.name)
    assert call.state.answers == before and call.state.symptoms == ("loud",)
    assert call.likely()[0].cause == "bearing-dry" and call.next_step().id == "grease"
