"""Calls that only ask for the cause: the packs of the README and of the guide, played."""

from __future__ import annotations

import re
import warnings
from pathlib import Path

import numpy as np
import pytest

from diagnose import Call, load_trees
from diagnose.calls.call import CallError
from diagnose.knowledge.load import compile_trees
from diagnose.knowledge.model import Trees
from diagnose.knowledge.problems import Problems
from diagnose.reasoning.naming import can_matter
from diagnose.shipped import shipped_folder

TOP = Path(__file__).parents[2]
GUIDE = shipped_folder("trees") / "README.md"


def packs(file: Path) -> list[str]:
    """The packs that a page shows whole."""
    return [text for text in re.findall(r"```yaml\n(.*?)```", file.read_text("utf-8"), re.DOTALL) if "brown-" in text]


def compiled(text: str) -> Trees:
    problems = Problems()
    trees = compile_trees({"pack.yaml": text}, f"naming-{hash(text)}", problems)
    assert trees is not None, [str(problem) for problem in problems]
    return trees


PACK = packs(TOP / "README.md")[0]


@pytest.fixture
def fern() -> Trees:
    return compiled(PACK)


def test_the_readme_and_the_guide_show_the_same_short_pack(tmp_path: Path) -> None:
    assert packs(GUIDE) == [PACK] and len(PACK.splitlines()) <= 20
    (tmp_path / "fern.yaml").write_text(PACK, encoding="utf-8")
    trees = load_trees(tmp_path, cache=False)
    call = Call(trees, symptoms=["brown-fronds"], goal="cause", sure=0.9)
    step = call.next_step()
    assert (step.kind, step.id) == ("check", "soil") and 0 < step.expected_minutes_left < 10
    call.answer("soil", "soaked")
    step = call.next_step()
    while step.kind == "check":
        call.answer(step.id, "soft" if step.id == "tips" else trees.checks[step.id].answers[0])
        step = call.next_step()
    assert (step.kind, step.id) == ("stop", "cause found")
    assert "Kept too wet" in step.why and call.likely()[0].cause == "too-wet"


def test_what_steps_do_not_say_is_made_up(fern: Trees) -> None:
    assert {check.who for check in fern.checks.values()} == set(fern.people) == {"anyone"}
    assert {check.energy for check in fern.checks.values()} == {"any"} and set(fern.access) == {"here"}
    assert Call(fern, symptoms=["brown-fronds"]).state.people == ("anyone",)
    assert Call(fern, symptoms=["brown-fronds"], people=["electrician"]).next_step().kind == "check"
    nobody = Call(fern, symptoms=["brown-fronds"], people=[])
    assert (nobody.next_step().kind, nobody.next_step().id) == ("stop", "nothing can matter")


def test_the_usual_person_is_the_one_marked_and_otherwise_who_includes_the_most(shipped_trees: Trees) -> None:
    assert Call(shipped_trees, {}, ["limits-drift"]).state.people == ("anyone", "technician")
    people = """people:
  guest: {title: guest}
  keeper: {title: keeper, includes: [guest]}
  botanist: {title: botanist, includes: [keeper, guest], call-out: 60}
  owner: {title: owner}
"""
    trees = compiled(PACK + people)
    assert {check.who for check in trees.checks.values()} == {"keeper"}
    assert Call(trees, symptoms=["brown-fronds"]).state.people == ("guest", "keeper")
    marked = compiled(PACK + people.replace("title: owner", "title: owner, usual: yes"))
    assert {check.who for check in marked.checks.values()} == {"owner"}


def test_exclusive_causes_sum_to_one_whatever_is_answered(fern: Trees) -> None:
    random = np.random.default_rng(5)
    for _ in range(30):
        call = Call(fern, symptoms=["brown-fronds"])
        for check in random.permutation(sorted(fern.checks))[: random.integers(5)]:
            call.answer(str(check), str(random.choice(fern.checks[str(check)].answers)))
            assert not call.inference.pairs
            assert sum(item.probability for item in call.likely()) == pytest.approx(1.0, abs=1e-12)
    both = compiled(PACK.replace("exclusive: yes", "exclusive: no"))
    call = Call(both, symptoms=["brown-fronds"])
    for check, text in {"soil": "soaked", "undersides": "bumps", "tips": "crisp"}.items():
        call.answer(check, text)
    assert call.inference.pairs and sum(item.probability for item in call.likely()) > 1.05


def test_without_unlisted_and_slips_nothing_is_added_and_nothing_is_warned_of() -> None:
    exact = compiled(PACK.replace("{unlisted: 0.02, slip: 0.01}", "{unlisted: 0, slip: 0}"))
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        call = Call(exact, symptoms=["brown-fronds"], sure=1.0)
        assert [item.cause for item in call.likely()].count("unlisted") == 0
        step = call.next_step()
        while step.kind == "check":
            call.answer(step.id, exact.checks[step.id].answers[1])
            assert sum(item.probability for item in call.likely()) == pytest.approx(1.0)
            assert call.surprise().nothing_fits is False
            step = call.next_step()
        assert step.id in ("nothing can matter", "cause found") and call.untested() == ""
    # By hand: prior × P(dry | …) with 0.2 of a sound pot shared by dry and soaked.
    call = Call(exact, symptoms=["brown-fronds"])
    call.answer("soil", "dry")
    weights = {"too-dry": 40 * 0.75 * 0.93, "too-wet": 25 * 0.5 * 0.035, "too-bright": 20 * 0.5 * 0.1}
    weights["scale-insects"] = 5 * 0.75 * 0.1
    found = {item.cause: item.probability for item in call.likely()}
    # The 0.07 that "soaked" leaves is shared as a sound pot shares moist and dry: 0.8 to 0.1.
    weights["too-wet"] = 25 * 0.5 * 0.07 * 0.1 / 0.9
    total = sum(weights.values())
    assert found == pytest.approx({cause: weight / total for cause, weight in weights.items()})


def test_an_answer_that_nothing_can_give_tells_nothing() -> None:
    text = PACK.replace("{unlisted: 0.02, slip: 0.01}", "{unlisted: 0, slip: 0}")
    text = text.replace("healthy: {south: 0.3}", "healthy: {south: 0.3, north: impossible}")
    text = text.replace("window: {south: probable}", "window: {south: probable, north: impossible}")
    call = Call(compiled(text), symptoms=["brown-fronds"])
    before = {item.cause: item.probability for item in call.likely()}
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        call.answer("window", "north")
        assert {item.cause: item.probability for item in call.likely()} == pytest.approx(before)
        assert call.next_step().kind == "check"


def test_asking_ends_when_no_answer_can_put_another_cause_first() -> None:
    weak = PACK.replace("bumps: almost-certain", "bumps: 0.04").replace("south: probable", "south: 0.31")
    call = Call(compiled(weak), symptoms=["brown-fronds"], sure=0.9999)
    call.answer("soil", "dry")
    call.answer("tips", "crisp")
    assert not can_matter(call.planner)
    step = call.next_step()
    assert (step.kind, step.id) == ("stop", "nothing can matter") and "Kept too dry" in step.why
    assert can_matter(Call(compiled(weak), symptoms=["brown-fronds"]).planner)


def test_what_is_put_off_waits_and_a_probable_slip_is_looked_at_again(fern: Trees) -> None:
    call = Call(fern, symptoms=["brown-fronds"], sure=0.999)
    call.put_off("check", "soil")
    assert call.next_step().id != "soil"
    for check in ("tips", "window", "undersides"):
        call.put_off("check", check)
    assert call.next_step().kind == "check", "where nothing else is left it is asked"
    slips = compiled(PACK.replace("slip: 0.01", "slip: 0.05").replace("{bumps: 0.03}", "{bumps: 0.001}"))
    call = Call(slips, symptoms=["brown-fronds"], sure=0.9999)
    for check, text in {"soil": "soaked", "tips": "soft", "window": "north", "undersides": "bumps"}.items():
        call.answer(check, text)
    assert call.surprise().again == ("undersides",)
    step = call.next_step()
    assert (step.kind, step.id) == ("check", "undersides") and "slip" in step.why


def test_a_name_on_few_answers_is_warned_of(fern: Trees) -> None:
    call = Call(fern, symptoms=["brown-fronds"], sure=0.9)
    assert call.untested() == "", "nothing is named yet"
    call.answer("soil", "soaked")
    call.answer("tips", "soft")
    assert call.likely()[0].probability >= 0.9 and "not in the book" in call.untested()
    assert call.untested() in call.next_step().why


def test_trees_with_remedies_may_be_asked_for_the_cause_alone(small_trees: Trees) -> None:
    facts = {"drive": "jackshaft", "construction": "sectional", "devices": ["photo-eye", "wall-station"]}
    call = Call(small_trees, facts, ["eye-lamp-wrong"], goal="cause", sure=0.8)
    assert Call(small_trees, facts, ["eye-lamp-wrong"]).goal == "repair"
    kinds = set()
    for _ in range(40):
        step = call.next_step()
        kinds.add(step.kind)
        if step.kind == "energy":
            call.enter(step.id)
        elif step.kind == "check":
            call.answer(step.id, "could not tell")
        else:
            break
    assert kinds <= {"check", "energy", "stop"} and step.id == "nothing can matter"
    with pytest.raises(CallError, match="goal"):
        Call(small_trees, facts, ["eye-lamp-wrong"], goal="money")  # type: ignore[arg-type]
    with pytest.raises(CallError, match="sure"):
        Call(small_trees, facts, ["eye-lamp-wrong"], sure=1.5)
