"""What is asked before a remedy is put, when one that failed is put again, and what is mended before handing over."""

from __future__ import annotations

import pytest

from diagnose import Call
from diagnose.calls import inference
from diagnose.knowledge.load import compile_trees
from diagnose.knowledge.model import Trees
from diagnose.knowledge.problems import Problems
from diagnose.reasoning.belief import TWO_AT_ONCE, first_belief

PACK = """
source: estimate
costs: {unlisted: 0.02, slip: 0.01}
symptoms:
  slips: {title: It slips, caller: Does it slip?, causes: {lining-oiled: 0.9, belt-worn: 0.9}}
causes:
  lining-oiled:
    {title: Lining oiled, base: 0.02, signs: {lining: {oily: 0.98}, seal: {weeps: 0.5}, smell: {of oil: 0.98},
     drip: {under it: 0.98}},
     remedies: {new-lining: 0.9, new-lining-and-seal: 0.95}}
  belt-worn: {title: Belt worn, base: 0.02, signs: {belt: {thin: 0.98}}, remedies: {new-belt: 0.95}}
checks:
  lining: {ask: "How is the lining?", answers: [dry, oily], healthy: {dry: 0.99, oily: 0.01}, minutes: 2}
  seal: {ask: "Does the seal weep?", answers: [dry, weeps], healthy: {dry: 0.9, weeps: 0.1}, minutes: 4}
  smell: {ask: "What is the smell?", answers: [none, of oil], healthy: {none: 0.995, of oil: 0.005}, minutes: 3}
  drip: {ask: "Where does it drip?", answers: [nowhere, under it], healthy: {nowhere: 0.99, under it: 0.01}, minutes: 3}
  belt: {ask: "How is the belt?", answers: [thick, thin], healthy: {thick: 0.99, thin: 0.01}, minutes: 2}
  gap: {measure: The gap, unit: mm, plausible: 0 to 9 mm, healthy: {normal: [1 mm, 0.2 mm]}, worse: higher, minutes: 1}
remedies:
  new-lining: {title: A new lining, minutes: 30, after: AFTER}
  new-lining-and-seal: {title: A new lining and seal, minutes: 80}
  new-belt: {title: A new belt, minutes: 20}
"""


def pack(after: str = "{seal: dry}") -> Trees:
    problems, text = Problems(), PACK.replace("AFTER", after)
    trees = compile_trees({"pack.yaml": text}, f"before-{hash(text)}", problems)
    assert trees is not None, [str(problem) for problem in problems]
    return trees


def oiled(trees: Trees) -> Call:
    call = Call(trees, symptoms=["slips"])
    call.answer("lining", "oily")
    call.answer("belt", "thick")
    return call


def test_the_question_that_tells_comes_before_the_part() -> None:
    call = oiled(pack())
    step = call.next_step()
    assert (step.kind, step.id) == ("check", "seal") and "'A new lining' comes next" in step.why
    call.answer("seal", "dry")
    assert (call.next_step().kind, call.next_step().id) == ("remedy", "new-lining")


def test_an_answer_that_speaks_against_a_remedy_puts_the_other() -> None:
    call = oiled(pack())
    call.answer("seal", "weeps")
    assert (call.next_step().kind, call.next_step().id) == ("remedy", "new-lining-and-seal")
    assert "new-lining" not in {repair.remedy.id for repair in call.planner.remedies}
    call.answer("seal", "dry", mode="correction")
    assert call.next_step().id == "new-lining"


def with_one_repair(answered: str) -> Call:
    """The lining is sure, nothing else is worth asking, and its one repair waits for a seal that does not weep."""
    text = PACK.replace("AFTER", "{seal: dry}").replace(", new-lining-and-seal: 0.95", "")
    problems = Problems()
    trees = compile_trees({"pack.yaml": text}, "one-repair", problems)
    assert trees is not None, [str(problem) for problem in problems]
    call = oiled(trees)
    for check, answer in {"smell": "of oil", "drip": "under it", "seal": answered}.items():
        call.answer(check, answer)
    return call


def test_an_answer_that_alone_keeps_a_likely_repair_back_is_looked_at_again_before_handing_over() -> None:
    call = with_one_repair("weeps")
    step = call.next_step()
    assert (step.kind, step.id) == ("check", "seal") and "“Lining oiled” is likely" in step.why
    call.answer("seal", "weeps", mode="again")
    assert call.next_step().id == "hand over", "it is so, and a third look tells nothing"


def test_a_slip_found_by_that_look_gives_the_repair_back() -> None:
    call = with_one_repair("weeps")
    call.answer("seal", "dry", mode="correction")
    assert (call.next_step().kind, call.next_step().id) == ("remedy", "new-lining")


def test_what_could_not_be_told_speaks_against_nothing() -> None:
    call = oiled(pack())
    call.answer("seal", "could not tell")
    assert (call.next_step().kind, call.next_step().id) == ("remedy", "new-lining")


@pytest.mark.parametrize("answer", ["dry", "weeps"])
def test_where_no_answer_is_named_it_is_only_asked(answer: str) -> None:
    call = oiled(pack("[seal]"))
    assert call.next_step().id == "seal"
    call.answer("seal", answer)
    assert call.next_step().id == "new-lining"


@pytest.mark.parametrize(("read", "put"), [("1 mm", True), ("4 mm", False)])
def test_a_reading_allows_by_bands(read: str, put: bool) -> None:
    call = oiled(pack('{gap: "below 2 mm"}'))
    call.answer("gap", read)
    assert ("new-lining" in {repair.remedy.id for repair in call.planner.remedies}) == put


@pytest.mark.parametrize(
    ("after", "told"),
    [("{seel: dry}", "'seel' is not among the checks"), ("{seal: damp}", "'damp' is not an answer of 'seal'")],
)
def test_what_names_no_check_or_answer_is_refused_where_it_stands(after: str, told: str) -> None:
    problems = Problems()
    compile_trees({"pack.yaml": PACK.replace("AFTER", after)}, f"wrong-{after}", problems)
    assert any(told in str(problem) and "pack.yaml:" in str(problem) for problem in problems.errors)


def among_many() -> Call:
    """The lining is one of many suspects, so that what speaks for it can speak strongly."""
    others = {f"other-{number}" for number in range(60)}
    causes = "".join(
        f"  {name}: {{title: {name}, base: 0.02, remedies: {{new-belt: 0.9}}}}\n" for name in sorted(others)
    )
    raised = ", ".join(f"{name}: 0.9" for name in sorted(others))
    text = PACK.replace("AFTER", "[seal]").replace("belt-worn: 0.9}}", f"belt-worn: 0.9, {raised}}}}}")
    problems = Problems()
    trees = compile_trees({"pack.yaml": text.replace("checks:\n", f"{causes}checks:\n")}, "among-many", problems)
    assert trees is not None, [str(problem) for problem in problems]
    return Call(trees, symptoms=["slips"])


def put(call: Call) -> set[str]:
    return {repair.remedy.id for repair in call.planner.remedies}


def test_a_failed_remedy_comes_again_only_where_something_new_makes_nearly_sure_of_it() -> None:
    call = among_many()
    assert "new-lining" in put(call)
    call.tried("new-lining", worked=False)
    assert "new-lining" not in put(call)
    call.answer("seal", "weeps")
    assert "new-lining" not in put(call), "it speaks for the lining, and not strongly"
    call.answer("lining", "oily")
    assert "new-lining" not in put(call), "it speaks strongly for the lining, which is not sure yet"
    call.answer("smell", "of oil")
    call.answer("drip", "under it")
    assert "new-lining" in put(call)
    call.tried("new-lining", worked=False)
    assert "new-lining" not in put(call), "twice is enough"


def test_what_was_looked_at_before_is_nothing_new() -> None:
    call = among_many()
    call.answer("lining", "oily")
    call.tried("new-lining", worked=False)
    call.answer("lining", "oily")
    assert "new-lining" not in put(call)


def test_where_nothing_left_mends_what_leads_no_repair_of_one_in_a_hundred_is_put() -> None:
    """However dear it is to hand over."""
    text = PACK.replace("AFTER", "{seal: dry}").replace("unlisted: 0.02", "unlisted: 0.008, hand-over: 10000")
    text = text.replace("A new belt, minutes: 20", "A new belt, minutes: 60")
    problems = Problems()
    trees = compile_trees({"pack.yaml": text}, "nothing-left", problems)
    assert trees is not None, [str(problem) for problem in problems]
    call = Call(trees, symptoms=["slips"])
    call.answer("lining", "oily")
    call.answer("seal", "weeps")
    call.answer("seal", "weeps", mode="again")
    call.tried("new-lining-and-seal", worked=False)
    for check in ("drip", "gap"):
        call.answer(check, "could not tell")
    call.answer("belt", "thick")
    call.answer("smell", "of oil")
    likeliest = max(call.likely(), key=lambda each: each.probability)
    assert likeliest.cause == "lining-oiled" and put(call) == {"new-belt"}
    assert (call.next_step().kind, call.next_step().id) == ("stop", "hand over")


def test_where_a_repair_did_not_end_it_two_faults_are_as_common_as_they_are_in_life(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    call = oiled(pack())
    by_rates = first_belief(call.situation, pairs=True)
    at_least = first_belief(call.situation, pairs=True, at_least=TWO_AT_ONCE)
    assert by_rates.pairs < TWO_AT_ONCE and at_least.pairs == pytest.approx(TWO_AT_ONCE)
    assert at_least.single / at_least.single.sum() == pytest.approx(by_rates.single / by_rates.single.sum())
    assert first_belief(call.situation, pairs=True, at_least=by_rates.pairs / 2).pairs == by_rates.pairs
    call.tried("new-lining", worked=False)
    other = call.situation.causes.index("belt-worn")
    with monkeypatch.context() as patched:
        patched.setattr(inference, "TWO_AT_ONCE", 0.0)
        by_rates_alone = inference.infer(call.situation, call.state)
    assert call.inference.present[other] > 2 * by_rates_alone.present[other]
