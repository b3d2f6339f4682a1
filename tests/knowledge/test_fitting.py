"""Facts of a door that do not go together: what the trees say of it holds in every place that takes facts."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner

from diagnose.calls.call import Call, CallError
from diagnose.calls.doors import DoorRecord, facts_known, left_out
from diagnose.calls.events import FactStated, Opened
from diagnose.calls.exchange import export_call
from diagnose.calls.store import Store
from diagnose.cli import cli
from diagnose.knowledge.fitting import fitting, is_open, laid_over, misfits, possible, tree_facts
from diagnose.knowledge.model import Facts, Trees
from diagnose.knowledge.problems import Problems
from diagnose.practice.drawing import _draw_door
from diagnose.practice.from_life import DoorError, load_doors
from diagnose.practice.library import load_library, read_library
from diagnose.practice.simulated import draw_door
from diagnose.screening.batch import read_rows
from diagnose.screening.interview import asked_facts
from diagnose.shipped import shipped_folder
from diagnose.sitting.course import first_facts
from diagnose.sitting.view import not_known
from tests.knowledge.test_load import GOOD, faults

FACTS = """
facts:
  kind: {title: Kind, ask: Which?, answers: [panel, gate]}
  drive: {title: Drive, ask: Which?, answers: [arm, slide], goes-with: {arm: {kind: panel}, slide: {kind: gate}}}
  rail: {title: Rail, ask: Which?, answers: [long, short], applies: {drive: arm}}
  sensors: {title: Sensors, ask: Which?, answers: [eye, edge, none], many: yes, alone: none}
"""
SAID = "The door has a gate's slide operator, and melting links of a fire door that it is not."
BROKEN: dict[str, str] = {"construction": "sectional", "drive": "slide"}


def wrong_with(said: Facts, trees: Trees) -> list[str]:
    return [name for name, *_ in misfits(trees.facts, said)]


# --- the trees ---------------------------------------------------------------------------------------------------


def test_trees_may_say_what_goes_together() -> None:
    assert faults(GOOD, FACTS) == []


@pytest.mark.parametrize(
    ("now", "instead", "rule", "line", "said"),
    [
        ("alone: none", "alone: nothing", "unknown-id", 6, "'nothing' is not an answer of this fact."),
        ("many: yes, alone", "many: no, alone", "shape", 6, "Only one answer to this can hold"),
        ("slide: {kind: gate}", "slid: {kind: gate}", "unknown-id", 4, "'slid' is not an answer of this fact."),
        ("slide: {kind: gate}", "slide: {kind: gat}", "unknown-id", 4, "'gat' is no answer to 'kind'."),
        ("applies: {drive: arm}", "applies: {drve: arm}", "unknown-id", 5, "'drve' is no fact."),
        ("applies: {drive: arm}", "applies: {drive: arm, kind: gate}", "never-met", 5, "No door can be so: drive arm"),
        ("answers: [panel, gate]", "answers: [panel, gate], applies: {rail: long}", "circle", 3, "hang on each other"),
    ],
)
def test_what_can_never_be_is_refused_at_its_line(now: str, instead: str, rule: str, line: int, said: str) -> None:
    assert now in FACTS
    found = faults(GOOD, FACTS.replace(now, instead))
    assert found and all((each.place.file, each.place.line, each.rule) == ("1.yaml", line, rule) for each in found)
    assert said in found[0].wrong


def test_an_entry_that_no_door_can_have_is_refused() -> None:
    (found,) = faults(GOOD.replace("title: Jammed", "title: Jammed\n    applies: {kind: gate, drive: arm}"), FACTS)
    assert (found.rule, found.wrong) == ("never-met", "No door can be so: kind gate; drive arm.")


# --- what follows from it ----------------------------------------------------------------------------------------


def test_what_does_not_go_with_the_rest_counts_as_not_said(shipped_trees: Trees) -> None:
    facts = shipped_trees.facts
    assert wrong_with(BROKEN, shipped_trees) == ["drive"]
    assert wrong_with({"fire-rated": "no", "fire-release": "melting links"}, shipped_trees) == ["fire-release"]
    assert wrong_with({"opening-sensor": ("push-plate", "none")}, shipped_trees) == ["opening-sensor"]
    assert fitting(facts, BROKEN) == {"construction": "sectional"}
    assert laid_over(facts, {"drive": "slide"}, {"construction": "sectional"}) == {"construction": "sectional"}
    # What is said stands against what was known, and is judged where it is said.
    assert laid_over(facts, {"construction": "sectional"}, {"drive": "slide"}) == BROKEN
    (_, wrong, mend), *_ = misfits(facts, BROKEN)
    assert wrong == "Kind of drive 'slide operator' does not go with kind of door 'sectional'."
    assert mend == "Change one of the two."


def test_a_fact_that_is_not_of_such_a_door_has_no_answer_and_a_single_answer_is_so(shipped_trees: Trees) -> None:
    gate = tree_facts(shipped_trees, {"construction": "gate", "fire-release": "melting links"})
    assert gate["fire-rated"] == "no" and gate["fire-release"] == () and gate["counterbalance"] == "none"
    assert "drive" not in gate and "drive" not in tree_facts(shipped_trees, BROKEN)
    assert possible(shipped_trees.facts["drive"], {"construction": "gate"}) == ("slide", "swing", "another kind")
    assert not is_open(shipped_trees.facts["fire-rated"], gate) and is_open(shipped_trees.facts["devices"], gate)


def test_no_proof_of_a_fire_door_is_asked_of_a_gate_and_none_is_lost_by_a_word(shipped_trees: Trees) -> None:
    gate = Call(shipped_trees, {"construction": "gate"})
    door = Call(shipped_trees, {"construction": "rolling-steel"})
    assert not any("fire-rated" in proof.applies for proof in gate.needed_proofs())
    assert any("fire-rated" in proof.applies for proof in door.needed_proofs())
    # In mid call a door does not become a gate without a word, nor does what hangs on it vanish.
    proof = next(
        p for p in door.needed_proofs() if p.energy in (door.energy, "any") and p.who in ("anyone", "technician")
    )
    door.proved(proof.id, passed=True)
    with pytest.raises(CallError, match="never there"):
        door.state_fact("construction", "gate")


# --- a call ------------------------------------------------------------------------------------------------------


def test_a_call_refuses_it_with_a_sentence_and_drops_what_no_longer_goes(shipped_trees: Trees) -> None:
    with pytest.raises(CallError, match="'slide operator' does not go with kind of door 'sectional'"):
        Call(shipped_trees, BROKEN)
    call = Call(shipped_trees, {"construction": "sectional", "drive": "trolley"})
    with pytest.raises(CallError, match="'none' stands alone"):
        call.state_fact("opening-sensor", ("push-plate", "none"))
    call.state_fact("construction", "gate")
    assert call.state.facts == {"construction": "gate"} and "drive" not in call.situation.facts
    call.undo("a slip")
    assert call.state.facts == {"construction": "sectional", "drive": "trolley"}


def test_an_old_call_that_breaks_it_is_read(shipped_trees: Trees) -> None:
    events: list[Any] = list(Call(shipped_trees, {"fire-rated": "no"}, ["will-not-close-on-timer"]).events)
    assert isinstance(events[0], Opened)
    events.append(
        FactStated(sequence=2, at=events[0].at, by="", fact="fire-release", value="melting links"),
    )
    call = Call(shipped_trees, history=events)
    assert call.state.facts == {"fire-rated": "no"} and call.facts["fire-release"] == ()
    assert call.next_step().id
    told = "Of the door this counts as not said. "
    told += "Release of the fire door 'melting links' does not go with fire-rated 'no'."
    assert not_known(call) == told and not_known(Call(shipped_trees, {"fire-rated": "no"})) == ""


def test_a_call_brought_in_says_what_counts_as_not_said(tmp_path: Path) -> None:
    store, file = ["--store", str(tmp_path / "calls.sqlite3")], tmp_path / "call.json"
    kept = Store.open(tmp_path / "other.sqlite3")
    kept.claim("2026-11-25-bcdf")
    kept.append("2026-11-25-bcdf", Opened(sequence=1, at="2026-11-25T08:00:00+00:00", facts=dict(BROKEN)))
    file.write_text(export_call(kept, "2026-11-25-bcdf", False))
    kept.close()
    told = CliRunner().invoke(cli, [*store, "log", "--import", str(file)], standalone_mode=False)
    assert "is here now" in told.output and "'slide operator' does not go with kind of door" in told.output


def test_neither_the_lines_nor_the_phone_ask_what_is_settled(shipped_trees: Trees) -> None:
    complaint = ["will-not-close-on-timer"]
    door = Call(shipped_trees, {"construction": "sectional"}, complaint)
    gate = Call(shipped_trees, {"construction": "gate"}, complaint)
    assert "fire-rated" in {fact.id for fact in first_facts(door)} - asked_facts(door)
    assert "fire-rated" not in {fact.id for fact in first_facts(gate)} and "fire-rated" in asked_facts(gate)


def test_plain_lines_say_it_and_ask_again(tmp_path: Path) -> None:
    store = ["--store", str(tmp_path / "calls.sqlite3")]
    told = CliRunner().invoke(
        cli,
        [*store, "ask", "will-not-close-on-timer", "--new", "--fact", "construction=sectional"],
        # No site and no door, then the facts that are asked before the first question.
        input="\n".join(["", "", "5", "1", *(["?"] * 8), "quit", ""]),
        standalone_mode=False,
    )
    assert "Kind of drive 'slide operator' does not go with kind of door 'sectional'." in told.output, told.output
    assert "Kind of drive: trolley with an arm on a rail" in told.output


# --- doors in files ----------------------------------------------------------------------------------------------


def test_a_kept_door_that_breaks_it_says_so_and_is_read_without(shipped_trees: Trees) -> None:
    record = DoorRecord(name="Dock 3", facts=dict(BROKEN))
    assert facts_known(shipped_trees, record) == {"construction": "sectional"}
    assert left_out(shipped_trees, record) == [
        "Kind of drive 'slide operator' does not go with kind of door 'sectional'."
    ]


def test_files_of_doors_calls_and_scenarios_are_refused_at_their_line(shipped_trees: Trees, tmp_path: Path) -> None:
    life = tmp_path / "life.yaml"
    text = (
        f"- id: k01\n  says: It is stuck.\n  truth: {SAID}\n  facts:\n    construction: sectional\n    drive: slide\n"
    )
    life.write_text(f"{text}  complaint: will-not-close-on-timer\n  causes: []\n")
    with pytest.raises(DoorError, match=r"life\.yaml:6: Kind of drive 'slide operator' does not go with"):
        load_doors(shipped_trees, [life])

    problems = Problems()
    read_rows("text,construction,drive\nit is stuck,sectional,slide\n", "calls.csv", shipped_trees, problems)
    assert [str(each.place) for each in problems.errors] == ["calls.csv:2"]

    call = tmp_path / "call.yaml"
    call.write_text("symptoms: [will-not-close-on-timer]\ndoor:\n  fire-rated: no\n  fire-release: melting links\n")
    told = CliRunner().invoke(cli, ["run", str(call)])
    said = "call.yaml:4: Release of the fire door 'melting links' does not go with fire-rated 'no'."
    assert said in str(told.exception)

    shipped = shipped_folder("scenarios") / "saltmere-laundry.yaml"
    scenario = tmp_path / "scenarios" / shipped.name
    scenario.parent.mkdir()
    before, _, after = shipped.read_text().partition("\nfacts:\n")
    scenario.write_text(f"{before}\nfacts:\n  opening-sensor: [push-plate, none]\n{after}")
    problems = Problems()
    read_library(shipped_trees, scenario.parent, problems)
    line = before.count("\n") + 3
    assert f"{shipped.name}:{line}: Opening sensors 'none' stands alone." in "\n".join(map(str, problems.errors))


def test_a_kind_of_door_that_cannot_be_is_refused(shipped_trees: Trees, tmp_path: Path) -> None:
    shared = tmp_path / "shared" / "kinds.yaml"
    shared.parent.mkdir()
    shared.write_text("kinds:\n  odd:\n    facts: {drive: trolley}\n    has: {devices: [photo-eye, hand-chain]}\n")
    problems = Problems()
    read_library(shipped_trees, tmp_path, problems)
    assert any(str(each).startswith("shared/kinds.yaml:4: No door can be so") for each in problems.errors), problems


# --- doors that are drawn ----------------------------------------------------------------------------------------


def test_thousands_of_drawn_doors_obey(shipped_trees: Trees) -> None:
    random, kinds = np.random.default_rng(3), load_library(shipped_trees).places.kinds
    symptoms = list(shipped_trees.symptoms.values())
    counted: dict[str, int] = {}
    for number in range(2_000):
        symptom = symptoms[number % len(symptoms)]
        for facts in (
            draw_door(shipped_trees, random, symptom.id).facts,
            _draw_door(shipped_trees, kinds, random, symptom),
        ):
            assert wrong_with(facts, shipped_trees) == [], facts
            counted[str(facts.get("construction"))] = counted.get(str(facts.get("construction")), 0) + 1
    assert all(counted[kind] > 20 for kind in shipped_trees.facts["construction"].served), counted
