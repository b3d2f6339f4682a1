"""What is known of a door is said in words on every face and every paper, in the groups of one page."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

from click.testing import CliRunner

from diagnose.calls.call import Call
from diagnose.calls.document import text_of
from diagnose.calls.doors import DoorRecord, Revision
from diagnose.calls.report import record
from diagnose.calls.words import event_in_words, in_groups
from diagnose.cli import cli
from diagnose.commands.ask import stated_facts
from diagnose.knowledge.fitting import possible
from diagnose.knowledge.model import Facts, Trees
from diagnose.screening.paper import sheet_sections
from diagnose.screening.sheet import make_sheet
from diagnose.sitting.door_record import door_lines
from diagnose.sitting.handover import from_the_phone


def a_door(trees: Trees) -> Facts:
    """Of each fact the last answer that goes with the others and is called otherwise than it is written; all of them
    where many may hold."""
    facts: dict[str, Any] = {}
    for fact in trees.facts.values():
        named = tuple(answer for answer in possible(fact, facts) if answer in fact.titles and answer in fact.served)
        if named:
            facts[fact.id] = named if fact.many == "yes" else named[-1]
    return facts


def test_no_face_and_no_paper_shows_an_answer_as_it_is_written_in_the_trees(shipped_trees: Trees) -> None:
    trees, facts = shipped_trees, a_door(shipped_trees)
    call = Call(trees, facts, ["will-not-close-on-timer"], site="Mill", door="Door 3")
    call.note("the caller's words")
    for fact, value in facts.items():
        call.state_fact(fact, value)
    phone = from_the_phone(call)
    assert phone is not None
    shown = {
        "record": text_of(record(call)),
        "sheet": str([row for head, rows in sheet_sections(call, make_sheet(call)) for row in rows]),
        "history": "; ".join(event_in_words(trees, event) for event in call.events),
        "doors": str(door_lines(trees, Revision("a-door", 1, "2026-03-02", "", DoorRecord(facts=dict(facts))))),
        "phone": str(phone.told),
    }
    for face, text in shown.items():
        words = re.sub(r"\s+", " ", text)
        for fact, value in facts.items():
            for answer in (value,) if isinstance(value, str) else value:
                assert trees.facts[fact].called(answer) in words, (face, answer)
                if answer != trees.facts[fact].called(answer):
                    assert not re.search(rf"[:,] {answer}[,;.'\")]", words), (face, answer)


def test_every_answer_of_the_shipped_facts_is_called_something_a_person_would_say(shipped_trees: Trees) -> None:
    for fact in shipped_trees.facts.values():
        called = [fact.called(answer) for answer in fact.answers]
        assert len(set(called)) == len(called)
        for words in called:
            assert "-" not in words or words.replace("-", "") not in "".join(fact.answers), (fact.id, words)
            assert "," not in words, "answers are parted by commas on a command line"


def test_facts_stand_in_groups_the_door_first(shipped_trees: Trees) -> None:
    groups = in_groups(shipped_trees, shipped_trees.facts)
    assert list(groups) == ["The door", "The operator", "Supply", "Devices"]
    assert sum(map(len, groups.values())) == len(shipped_trees.facts)


def test_the_command_line_takes_facts_as_the_screens_name_them(shipped_trees: Trees) -> None:
    written = ("Kind of drive=hoist with a hand chain", "construction=Rolling steel", "devices=photo eyes,timer")
    assert stated_facts(written, shipped_trees) == {
        "drive": "hoist",
        "construction": "rolling-steel",
        "devices": ("photo-eye", "timer"),
    }


def test_plain_lines_list_the_facts_in_words(tmp_path: Path) -> None:
    store = ["--store", str(tmp_path / "calls.sqlite3")]
    told = CliRunner().invoke(
        cli,
        [
            *store,
            "ask",
            "will-not-close-on-timer",
            "--new",
            "--fact",
            "drive=hoist",
            "--fact",
            "construction=rolling-steel",
        ],
        input="?\n" * 12 + "facts\n\nquit\n",
        standalone_mode=False,
    )
    assert "Kind of drive: hoist with a hand chain" in told.output
    assert "Kind of door: rolling steel" in told.output
