"""The interview line by line: over piped input, with every word it knows, and with whatever else is typed."""

from __future__ import annotations

import contextlib
import functools
import io
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from diagnose.calls import events as ev
from diagnose.calls.call import Call
from diagnose.calls.state import fold
from diagnose.calls.store import Store, StoreError
from diagnose.calls.words import cautions_of
from diagnose.cli import main
from diagnose.commands.choosing import choose_symptom, pick
from diagnose.commands.console import Console, EndOfInput, plain
from diagnose.commands.interview import Interview
from diagnose.knowledge.load import load_trees
from diagnose.knowledge.model import Trees
from diagnose.sitting.door_facts import facts_that_matter
from tests.conftest import SMALL

FACTS = ("drive=trolley", "construction=sectional", "supply=single-phase", "fire-rated=no", "devices=photo-eye,timer")
DOOR = [*(part for fact in FACTS for part in ("--fact", fact)), "--site", "Vale Works", "--door", "Dock 3"]

Ask = Callable[..., tuple[int, str]]


@pytest.fixture
def place(tmp_path: Path) -> str:
    return str(tmp_path / "calls.sqlite3")


@pytest.fixture
def ask(place: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Ask:
    """``diagnose ask`` with lines typed; gives the exit code and all that was said."""
    monkeypatch.setenv("DIAGNOSE_LOG", f"{place}.log")

    def run(*arguments: str, lines: str = "") -> tuple[int, str]:
        monkeypatch.setattr("sys.stdin", io.StringIO(lines))
        code = main(["--trees", str(SMALL), "--store", place, "ask", *arguments])
        captured = capsys.readouterr()
        return code, captured.out + captured.err

    return run


@pytest.fixture
def store(place: str) -> Iterator[Store]:
    opened = Store.open(place)
    yield opened
    opened.close()


def kinds(store: Store) -> list[str]:
    return [type(event).__name__ for event in store.events(store.find("last"))]


def test_the_notice_the_cautions_and_the_way_back_are_said(ask: Ask) -> None:
    code, said = ask("eye-lamp-wrong", *DOOR)
    assert code == 0
    assert said.count("Local codes, the maker's instructions") == 1
    what, warning, how = (said.index(t) for t in ("What does the lamp on the", "WARNING: The door can", "How: "))
    assert what < warning < how
    assert "diagnose ask --call 2" in said.splitlines()[-1]
    assert "\x1b" not in said


def test_an_answer_is_on_the_disk_and_the_call_goes_on_where_it_was(ask: Ask, store: Store) -> None:
    ask("eye-lamp-wrong", *DOOR, "--by", "Ana", lines="dark\n")
    events = store.events(store.find("last"))
    assert [(e.check, e.raw, e.value, e.by) for e in events if isinstance(e, ev.Answered)] == [
        ("eye-lamp-receiver", "dark", "dark", "Ana")
    ]
    opened = events[0]
    assert isinstance(opened, ev.Opened)
    assert (opened.site, opened.door, opened.symptoms) == ("Vale Works", "Dock 3", ("eye-lamp-wrong",))
    assert opened.facts["devices"] == ("photo-eye", "timer")
    _, said = ask("--call", "last", lines="answers\n")
    assert "1. What does the lamp on the receiving photo eye do? dark" in said
    assert "What does the lamp on the receiving photo eye do?\nHow" not in said, "it is not asked again"


def test_open_calls_are_offered_and_a_new_one(ask: Ask, store: Store) -> None:
    ask("eye-lamp-wrong", *DOOR)
    first = store.find("last")
    _, said = ask(lines="1\nquit\n")
    assert "These calls are open:" in said and f"Call {first}" in said
    _, said = ask(lines="7\n2\nlamp\nMill\nGate\n\n\n\n\n\nquit\n")
    assert "Type a number from 1 to 3." in said
    assert len(store.calls()) == 2
    assert {call.site for call in store.calls()} == {"Vale Works", "Mill"}
    _, said = ask("--new", lines="")
    assert "These calls are open" not in said and len(store.calls()) == 2


def test_an_open_call_is_ended_from_the_list_with_a_reason(ask: Ask, store: Store) -> None:
    ask("eye-lamp-wrong", *DOOR)
    _, said = ask(lines="3\n1\nthe firm has closed\n")
    assert "The call is ended: ended without a visit. Nobody has proved the door safe." in said
    (call,) = store.calls()
    assert (call.outcome, store.calls(open_only=True)) == ("ended without a visit", [])


def test_facts_asked_at_the_start_are_kept_one_by_one(ask: Ask, store: Store) -> None:
    ask("eye-lamp-wrong", "--site", "", lines="1\n?\n1, 5, timer\nmaybe\n2\nquit\n")
    facts = {e.fact: e.value for e in store.events(store.find("last")) if isinstance(e, ev.FactStated)}
    assert facts == {
        "drive": "trolley",
        "devices": ("photo-eye", "timer"),
        "fire-rated": "no",
    }
    _, said = ask("--call", "last", lines="\nfacts\nheight\n2\nquit\n")
    assert "What kind of door is it?" in said, "what was left open is asked once more"
    assert "Height of the opening: not known" in said
    assert isinstance(store.events(store.find("last"))[-1], ev.FactStated)


def test_an_implausible_number_is_asked_about_and_can_be_kept(ask: Ask, store: Store) -> None:
    start = "dark\nyes\n"
    _, said = ask("eye-lamp-wrong", *DOOR, lines=start + "240 V\n24 V\n")
    assert "Did you mean 24 V?" in said or "24 V" in said.split("240 V?")[1]
    assert 'Type keep to keep "240 V", or the answer again:' in said
    answers = [e for e in store.events(store.find("last")) if isinstance(e, ev.Answered)]
    assert (answers[-1].raw, answers[-1].value) == ("24 V", (24.0,))
    ask("eye-lamp-wrong", *DOOR, lines=start + "240 V\nkeep\n")
    answers = [e for e in store.events(store.find("last")) if isinstance(e, ev.Answered)]
    assert (answers[-1].raw, answers[-1].value) == ("240 V", (240.0,))


def test_what_is_no_answer_is_said_to_be_none_and_asked_again(ask: Ask, store: Store) -> None:
    _, said = ask("eye-lamp-wrong", *DOOR, lines="\nfrob\n9\ndark\nyes\n3 ft\n1.2 V\n")
    assert "Nothing was typed." in said
    assert "'frob' is not among the answers" in said and "'9' is not among the answers" in said
    assert [e.raw for e in store.events(store.find("last")) if isinstance(e, ev.Answered)] == ["dark", "yes", "1.2 V"]


def test_from_the_symptom_to_a_proven_door(ask: Ask, store: Store) -> None:
    lines = "dark\nyes\n1.2 V\n" + "1\n" * 30
    code, said = ask("eye-lamp-wrong", *DOOR, lines=lines)
    assert code == 0
    assert "Bring the door to: off, locked and tagged" in said
    assert said.index("WARNING: Your own lock and tag") < said.index("How: Tell those who use the door")
    assert "Passes when:" in said
    assert "Closed: returned to service. The record: diagnose report 2" in said
    names = kinds(store)
    assert names[-1] == "Closed" and names.count("Proved") == 9 and "Judged" in names
    call_id = store.find("last")
    _, said = ask("--call", call_id, lines="4\n")
    assert "The call is closed: returned to service." in said
    _, said = ask("--call", call_id, lines="3\nquit\n")
    assert store.calls()[0].is_open


def test_a_door_is_not_closed_over_a_missing_proof_but_left_out_with_a_reason(ask: Ask, store: Store) -> None:
    _, said = ask("eye-lamp-wrong", *DOOR, lines="close\n1\nclose\n2\n\nclose\n2\nno eye on the van [/x]\n")
    assert "9 proofs have not passed" in " ".join(said.split())
    assert "Say why the door is left out of service." in said
    assert "Closed: left out of service." in said
    closed = store.events(store.find("last"))[-1]
    assert isinstance(closed, ev.Closed) and closed.reason == "no eye on the van [/x]"


def test_why_and_likely_are_answered_from_the_numbers(ask: Ask) -> None:
    _, said = ask("eye-lamp-wrong", *DOOR, lines="dark\nwhy\nlikely\nlikely 1\nlikely 99\nlikely 6\n")
    assert "What would change my mind:" in said
    assert "Open or corroded splice in the photo-eye wiring" in said
    assert "What does the lamp on the receiving photo eye do? dark: 1.8 times likelier." in said
    assert "something not in the book" in said


def test_back_change_again_withdraw_and_note(ask: Ask, store: Store) -> None:
    lines = (
        "dark\nyes\n1.2 V\nagain 3\n1.4 V\nchange 1\nblinking\nback\nwithdraw 2\nagain 1\nchange\nchange 77\n"
        "change 1\n\nnote keep the beam clear\nnote\nanother\nhistory\nundo\n"
    )
    _, said = ask("eye-lamp-wrong", *DOOR, lines=lines)
    said = " ".join(said.split())
    assert "Undone: What does the lamp on the receiving photo eye do? “blinking” (corrected)." in said
    assert "Only readings are averaged." in said
    assert "Say which by its number" in said
    events = store.events(store.find("last"))
    state = fold(events)
    assert {name: answer.raw for name, answer in state.answers.items()} == {
        "eye-lamp-receiver": ("dark",),
        "eye-volts-far-end": ("1.2 V", "1.4 V"),
    }
    assert [text for _, text in state.notes] == ["keep the beam clear"], "undo took the last one back"
    assert "(undone)" in said and "(withdrawn)" in said


def test_what_is_known_already_is_answered_in_any_order(ask: Ask, store: Store) -> None:
    lines = "know zebra\n\nknow lenses look\ndirty\nskip\n2\n\n\nknow\nhit the\n1\n"
    _, said = ask("eye-lamp-wrong", *DOOR, lines=lines)
    assert "None is like 'zebra'." in said
    answers = [e for e in store.events(store.find("last")) if isinstance(e, ev.Answered)]
    assert [(e.check, e.value) for e in answers] == [("lens-clean", "dirty or wet"), ("impact", "no sign")]
    assert "Answer (Enter to leave it):" in said


def test_a_remedy_refused_leads_to_another_way(ask: Ask, store: Store) -> None:
    lines = "know receiving\nblinking\nknow lenses look\ndirty\n2\n1\nquit\n"
    _, said = ask("eye-lamp-wrong", *DOOR, lines=lines)
    refused = said[said.index("Repair:") :]
    assert "Clean both lenses with a soft cloth" in refused
    assert "Which instead" in refused and "(repair; " in refused
    assert "Put off until there is nothing better." in refused
    assert not fold(store.events(store.find("last"))).tries
    ask("--call", "last", lines="tried clean both lenses\n1\n3\nquit\n")
    tries = fold(store.events(store.find("last"))).tries
    assert [(e.remedy, e.worked) for e in tries] == [("clean-lenses", False)]


def test_energy_people_symptoms_and_proofs_by_word(ask: Ask, store: Store) -> None:
    lines = "energy\n9\n4\npeople\n2,4\npeople\nx\nsymptoms\nlamp\nproofs\n8\n2\nproofs\n\nquit\n"
    _, said = ask("eye-lamp-wrong", *DOOR, lines=lines)
    events = store.events(store.find("last"))
    assert [e.energy for e in events if isinstance(e, ev.EnergyEntered)] == ["off, locked and tagged"]
    assert [e.people for e in events if isinstance(e, ev.PeopleStated)] == [("technician", "electrician", "anyone")]
    assert [(e.proof, e.passed) for e in events if isinstance(e, ev.Proved)] == [("labels-in-place", False)]
    assert "It is the only one, and stays." in said
    assert "did not pass" in said


def test_a_state_that_cannot_be_had_is_no_dead_end(ask: Ask, store: Store) -> None:
    """The step that it was for is put off for another; nothing is written down as if it had been looked at."""
    lines = "dark\nyes\n1.2 V\n" + "2\n1\n" * 2 + "quit\n"
    code, said = ask("eye-lamp-wrong", *DOOR, lines=lines)
    assert code == 0
    assert "For: " in said and "Which instead" in said
    events = store.events(store.find("last"))
    assert [e.value for e in events if isinstance(e, ev.Answered)].count("could not tell") == 0
    assert any(isinstance(event, ev.PutOff) for event in events)


def test_a_word_that_is_an_answer_is_an_answer_and_with_a_stroke_a_command(small_trees: Trees) -> None:
    console = Console(80, io.StringIO(), io.StringIO())
    interview = Interview(Call(small_trees), "x", console)
    assert interview._as_command("back", {"back", "front"})[0] is None
    assert interview._as_command("/back", {"back"})[0] is not None
    assert interview._as_command("Back", {"front"})[0] is not None
    assert interview._as_command("backwards", set())[0] is None


def proven(trees: Trees) -> Call:
    """A call whose proofs have all passed, each in its state and by whoever may run it."""
    call = Call(trees, facts={"drive": "trolley", "devices": ("photo-eye",)}, symptoms=["eye-lamp-wrong"])
    call.state_people(tuple(trees.people))
    call.tried("clean-lenses", worked=True)
    while call.open_proofs():
        proof = call.open_proofs()[0]
        if proof.energy not in (call.energy, "any"):
            call.enter(proof.energy)
        call.proved(proof.id, passed=True)
    return call


def test_a_door_is_handed_back_with_power_and_without_a_lock(small_trees: Trees) -> None:
    call = proven(small_trees)
    call.enter("off, locked and tagged")
    said = io.StringIO()
    Interview(call, "x", Console(200, io.StringIO("close\n1\n1\n1\n"), said)).run()
    text = said.getvalue()
    assert "or leave " in text.casefold()
    assert "Bring the door to: powered, covers on" in text
    assert call.state.outcome == "returned to service"
    assert call.energy == "powered, covers on"


def test_a_remedy_done_without_power_is_tried_only_with_the_power_back(small_trees: Trees) -> None:
    call = Call(small_trees, facts={"drive": "trolley", "devices": ("photo-eye",)}, symptoms=["eye-lamp-wrong"])
    said = io.StringIO()
    lines = "\n\n\ntried splice\n1\n1\n2\nhistory\n1\n1\n3\nquit\n"
    Interview(call, "x", Console(200, io.StringIO(lines), said)).run()
    text = said.getvalue()
    assert "The repair is not finished: back to it." in text
    assert text.index("Bring the door to: powered, covers on") < text.index(": is it gone?")
    assert [(each.remedy, each.worked) for each in call.state.tries] == [("remake-splice", False)]
    assert call.energy == "powered, covers on"


def test_the_gravest_caution_of_a_step_stands_first(shipped_trees: Trees) -> None:
    release = cautions_of(shipped_trees, shipped_trees.proofs["manual-release"])
    words = [caution.word for caution in release]
    assert words == sorted(words, key=("DANGER", "WARNING", "CAUTION", "NOTICE").index)
    assert words[0] == "DANGER"


def test_answers_that_fit_ill_are_named_with_the_way_to_mend_them(ask: Ask) -> None:
    known = (("direct voltage", "24.1 V"), ("lenses look", "dirty"), ("brackets", "firm"), ("sending", "steady"))
    lines = "steady\n" + "".join(f"know {words}\n{answer}\n" for words, answer in known) + "likely\n"
    _, said = ask("eye-lamp-wrong", *DOOR, lines=lines)
    said = " ".join(said.split())
    assert "Look again, it fits ill with the rest: What does the lamp" in said
    assert "('change 1' corrects it.)" in said
    assert "This does not look like anything I know" in said
    assert "Who may see further: door technician" in said


def test_wrong_options_are_said_plainly(ask: Ask, store: Store) -> None:
    for arguments, part in (
        (["eye-lamp-wrong", "--fact", "drve=trolley"], "Did you mean 'drive'?"),
        (["eye-lamp-wrong", "--fact", "drive=trolly"], "Did you mean 'trolley'?"),
        (["eye-lamp-wrong", "--fact", "drive"], "Write it like drive=trolley"),
        (["eye-lamp-wrong", "--people", "wizard", "--site", ""], "no person"),
        (["--call", "nope"], "No call is recorded"),
    ):
        code, said = ask(*arguments)
        assert code == 2, arguments
        assert part in said
        assert "Traceback" not in said
    assert store.calls() == [], "nothing was begun"


def test_words_for_a_symptom_narrow_the_list(ask: Ask) -> None:
    _, said = ask("blinks dark", *DOOR, lines="")
    assert "Complaint: A photo eye's lamp blinks or is dark" in said
    _, said = ask("zebra", lines="")
    assert "No complaint is like 'zebra'." in said and "Input ended before a call was begun." in said


def test_many_symptoms_are_offered_by_family(shipped_like: Trees) -> None:
    target = io.StringIO()
    console = Console(80, io.StringIO("2\n3\n"), target)
    assert choose_symptom(console, shipped_like, {}, "", console.ask) == "s-1-2"
    assert "Family 1" in target.getvalue() and "Symptom 1 2" in target.getvalue()
    console = Console(80, io.StringIO("symptom 3 4\n1\n"), target)
    assert choose_symptom(console, shipped_like, {}, "", console.ask) == "s-3-4"


@pytest.fixture
def shipped_like(small_trees: Trees) -> Trees:
    """Four families of five symptoms."""
    import msgspec

    symptom = small_trees.symptoms["eye-lamp-wrong"]
    family = small_trees.families["sensor-indicator"]
    symptoms = {
        f"s-{f}-{s}": msgspec.structs.replace(symptom, id=f"s-{f}-{s}", title=f"Symptom {f} {s}", family=f"f-{f}")
        for f in range(4)
        for s in range(5)
    }
    families = {f"f-{f}": msgspec.structs.replace(family, id=f"f-{f}", title=f"Family {f}") for f in range(4)}
    return msgspec.structs.replace(small_trees, symptoms=symptoms, families=families, digest="like the shipped")


def test_a_store_that_fails_stops_the_interview_and_says_how_to_go_on(
    ask: Ask, store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    append = Store.append

    def full(self: Store, call_id: str, *events: ev.AnyEvent) -> None:
        if isinstance(events[0], ev.Answered):
            raise StoreError("The disk is full.")
        append(self, call_id, *events)

    monkeypatch.setattr(Store, "append", full)
    code, said = ask("eye-lamp-wrong", *DOOR, lines="dark\n")
    assert code == 2
    assert "The last entry was not taken down." in said and "The disk is full." in said
    assert "Taken down: dark" not in said
    assert kinds(store) == ["Opened"]


@pytest.mark.parametrize("width", [20, 40, 80])
def test_nothing_is_wider_than_asked(ask: Ask, width: int) -> None:
    _, said = ask("eye-lamp-wrong", *DOOR, "--width", str(width), lines="help\nwhy\nlikely\nhistory\n")
    prompts = ("Answer:", "Call 2", "/", "diagnose ask")
    for line in said.splitlines():
        assert len(line) <= width or any(mark in line for mark in prompts), line


@functools.cache
def trees() -> Trees:
    """The small trees, out of the way of Hypothesis, which would write them out whole."""
    return load_trees(SMALL, cache=False)


WORDS = (
    *("1", "2", "3", "4", "?", "dark", "keep", "why", "likely", "know", "back", "answers", "note", "tried", "proofs"),
    *("energy", "facts", "symptoms", "people", "history", "close", "help", "/back", "/close", "change 1", "again 1"),
    *("withdraw 1", "likely 2", "1.2 V", "[/x]", "\x1b[2J", "-1", "²"),
)


@settings(
    max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture]
)
@given(st.lists(st.one_of(st.text(max_size=15), st.sampled_from(WORDS)), max_size=25))
def test_whatever_is_typed_the_interview_goes_on(lines: list[str]) -> None:
    """No line ends it but the last, and the events kept are the call's."""
    kept: list[ev.AnyEvent] = []
    call = Call(trees(), {"devices": ("photo-eye", "timer")}, ["eye-lamp-wrong"], recorder=kept.append)
    target = io.StringIO()
    source = io.StringIO("\n".join(line.replace("\n", " ").replace("\r", " ") for line in lines) + "\n")
    with contextlib.suppress(EndOfInput):
        Interview(call, "x", Console(80, source, target)).run()
    assert tuple(kept) == call.events
    assert "\x1b" not in target.getvalue()


def test_plain_text_does_nothing_to_a_terminal() -> None:
    assert plain("a\x1b[2Jb\x07\u202e\tc") == "a�[2Jb�� c"
    target = io.StringIO()
    Console(30, io.StringIO(), target).say("one two three four five six seven eight", hang=4)
    assert target.getvalue() == "one two three four five six\n    seven eight\n"


def test_half_a_character_can_still_be_written_down() -> None:
    assert Console(80, io.StringIO("caf\udce9\n"), io.StringIO()).ask(">") == "caf?"


@pytest.mark.parametrize(
    ("typed", "chosen"),
    [("1", 0), ("2", 1), ("3", None), ("0", None), ("²", None), ("DARK", 1), ("li", 0), ("", None), ("d", None)],
)
def test_a_choice_is_its_number_itself_or_the_start_of_only_one(typed: str, chosen: int | None) -> None:
    assert pick(typed, ["light", "dark", "dull"][: 3 if typed == "d" else 2]) == chosen


def test_a_number_chooses_nothing_that_was_not_listed(ask: Ask, store: Store) -> None:
    _, said = ask("eye-lamp-wrong", *DOOR, lines="tried zebra qqq lion\n1\n\n")
    assert "None is like 'zebra qqq lion'." in said and "None is like '1'." in said
    assert not any(isinstance(event, ev.TakenUp) for event in store.events(store.find("last")))


def test_where_the_door_is_and_who_is_there_is_taken_down_of_a_call_gone_on_with(ask: Ask, store: Store) -> None:
    ask("eye-lamp-wrong", *DOOR, lines="quit\n")
    ask("--call", "last", "--door", "Dock 9", "--people", "anyone,technician,electrician", lines="quit\n")
    ask("--call", "last", "--door", "Dock 9", lines="quit\n")
    events = store.events(store.find("last"))
    assert [type(event).__name__ for event in events] == ["Opened", "PlaceStated", "PeopleStated"]
    state = fold(events)
    assert state.door == "Dock 9" and "electrician" in state.people


def test_what_decides_nothing_is_not_asked_of_the_door(ask: Ask, small_trees: Trees) -> None:
    _, said = ask("eye-lamp-wrong", "--site", "Vale", lines="\n" * 9 + "quit\n")
    asked = {fact.id for fact in small_trees.facts.values() if fact.ask in " ".join(said.split())}
    matter = set(facts_that_matter(small_trees, ["eye-lamp-wrong"]))
    assert asked == {fact for fact in matter if small_trees.facts[fact].first == "yes"}
