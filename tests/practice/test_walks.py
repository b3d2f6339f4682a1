"""A door half installed wrongly, commissioned in practice: found, passed over, and told of afterwards."""

from __future__ import annotations

import io
from pathlib import Path

import pytest

from diagnose.calls.call import CallError
from diagnose.calls.document import html_of_document, text_of
from diagnose.calls.markdown import markdown_of
from diagnose.cli import main
from diagnose.knowledge.model import Trees
from diagnose.knowledge.problems import Problems
from diagnose.practice import bots
from diagnose.practice.acts import DoJob, Enter, Finish, LookInto, LookOver, Mend
from diagnose.practice.debrief import debrief, wrong_in_words
from diagnose.practice.debriefing import debriefing
from diagnose.practice.library import Library, check_library, load_library, read_scenario
from diagnose.practice.scene import PracticeError
from diagnose.practice.session import Session
from diagnose.practice.walked import walked
from diagnose.sitting.practised import act_of, practice_card

NAME = "candlewick-wax-store"


@pytest.fixture(scope="module")
def library(shipped_trees: Trees) -> Library:
    return load_library(shipped_trees)


def begun(trees: Trees, library: Library, name: str = NAME) -> Session:
    return Session(trees, library.scenarios[name], 0, library.consequences)


def test_three_doors_are_half_installed(library: Library) -> None:
    walks = [each for each in library.scenarios.values() if each.walk]
    assert {each.facts["drive"] for each in walks} == {"trolley", "jackshaft", "slide"}
    assert all(len(each.wrong) == 2 and each.sights for each in walks)


def test_what_is_passed_unseen_is_shown_by_no_word_until_the_debriefing(shipped_trees: Trees, library: Library) -> None:
    """Everything is held to be right: a proof fails all the same, and the door is not handed over."""
    session = begun(shipped_trees, library)
    while not session.is_over:
        card = practice_card(session)
        if card.kind == "stop":
            break
        names = [choice.name for choice in card.choices if not choice.opens]
        session.do(act_of(session, card, "done" if "done" in names else names[0]))
    assert card.id == "proof failed"
    with pytest.raises(PracticeError, match="Not yet"):
        session.do(Finish(outcome="handed over"))
    with pytest.raises(PracticeError, match="ends with the door handed over"):
        session.do(Finish(outcome="returned to service"))
    session.do(Finish(outcome="left out of service", reason="A proof has failed."))
    told = wrong_in_words(session)
    passed = " ".join(each.passed for each in told)
    assert "Fix the header bracket" in passed and "Pull the control cables apart" in passed
    found = debrief(session, own=False)
    assert not found.solved and 0 < len(found.better) <= 3 and found.score.parts[4].points == 0
    lines = text_of(debriefing(found), 1000, by_rows=True)
    assert "lets go under load" in lines and "passed without a look" in lines
    page = html_of_document(debriefing(found))
    assert "lets go under load" in markdown_of(debriefing(found)) and "Where it turned" in page


def test_a_job_that_is_not_right_opens_a_call_and_the_walk_comes_back(shipped_trees: Trees, library: Library) -> None:
    session = begun(shipped_trees, library)
    for job in ("plan-operator-fits", "plan-supply", "plan-crew"):
        session.do(DoJob(job=job, came="done"))
    assert practice_card(session).id == "site-structure"
    assert "boarding" in session.do(LookOver(job="site-structure")).lines[0].text
    assert ("You see", session.sight(shipped_trees.jobs["site-structure"])) in practice_card(session).lines
    session.do(DoJob(job="site-structure", came="not right", reason="It stands on board."))
    session.do(LookInto(symptom="rail-shakes"))
    assert not session.call.walking and practice_card(session).kind in ("check", "energy")
    with pytest.raises(PracticeError):
        session.do(LookInto(symptom="no-such-complaint"))
    session.do(Enter(energy="off, locked and tagged"))
    assert session.do(Mend(remedy="refasten-header-bracket")).removed == ("header-bracket-loose",)
    session.do(Enter(energy=session.running))
    assert session.do(act_of(session, practice_card(session), "try")).worked
    assert session.call.walking and practice_card(session).id == "site-structure"
    assert session.sight(shipped_trees.jobs["site-structure"]).startswith("Every fixing point is structure")
    work = next(each for each in walked(session).wrong if each.cause == "header-bracket-loose")
    assert work.found is not None and work.mended is not None and not work.passed and not work.by_proof


def test_what_the_walk_refuses_practice_refuses_before_anything_is_kept(shipped_trees: Trees, library: Library) -> None:
    kept: list[object] = []
    session = begun(shipped_trees, library)
    session.keep_as("x", kept.append)
    for act in (
        DoJob(job="build-chain", came="done"),
        DoJob(job="plan-supply", came="not right"),
        DoJob(job="hang-jackshaft", came="done"),
    ):
        with pytest.raises(CallError):
            session.do(act)
    assert not kept and not session.done


def test_line_by_line_it_is_gone_and_gone_on_with(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def typed(*lines: str, more: tuple[str, ...] = (NAME,)) -> str:
        monkeypatch.setattr("sys.stdin", io.StringIO("".join(f"{line}\n" for line in lines)))
        main(["--store", str(tmp_path / "calls.sqlite3"), "practise", *more, "--plain"])
        return capsys.readouterr().out

    first = typed("1", "2", "jobs header", "", "quit")
    assert "Work: Put up a new operator" in first and "You see" in first and "done, and held to be right" in first
    again = typed("1", "6", "Nobody is here to go on.", more=())
    assert "Go on with: Nearly done on Friday" in again and "Not found." in again and "TO DO BETTER" in again


def test_a_walk_that_cannot_be_finished_is_refused(
    shipped_trees: Trees, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    text = """
source: invented
title: One
site: Nowhere Works
door: Gate
level: easy
story: It was begun.
walk: commissioning
facts: {drive: slide, construction: gate, supply: single-phase, nominal-volts: 230 V, devices: [photo-eye],
  fire-rated: no, counterbalance: none, limit-kind: limit switches}
causes: [chain-loose]
wrong: {chain-loose: {sights: {JOB: It lies on the ground.}, comes: It comes off.}}
teaches: To look.
"""
    (tmp_path / "one.yaml").write_text(text.replace("JOB", "hang-gate-operator"))
    monkeypatch.setattr(bots, "_MOST_ON_WALK", 3)
    _, problems = check_library(shipped_trees, tmp_path)
    assert [each.rule for each in problems.errors] == ["finish"]
    for job, said in (("fit-eyes", "opens no complaint"), ("build-rail", "is no job of that walk")):
        (tmp_path / "one.yaml").write_text(text.replace("JOB", job))
        problems = Problems()
        assert read_scenario(shipped_trees, tmp_path / "one.yaml", problems) is None
        assert said in str(problems.errors[0])
