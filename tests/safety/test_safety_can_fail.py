"""Each invariant fails when it should: on trees made bad on purpose, and on a program made bad on purpose."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import msgspec
import pytest

from diagnose.calls import events as ev
from diagnose.calls import next_step as steps
from diagnose.calls.call import Call
from diagnose.calls.closing import Ledger, Missing
from diagnose.knowledge.checker import Book
from diagnose.knowledge.kept import Kept
from diagnose.knowledge.model import Trees
from diagnose.reasoning.walk import Way
from diagnose.safety import walking
from diagnose.safety.closing import courses, returned_around_proofs, small_door
from diagnose.safety.hazards import caution_missing, not_for_this_person
from diagnose.safety.invariant import Invariant, Visited
from diagnose.safety.proving import proofs_incomplete
from diagnose.safety.walking import energy_order, offered_to_whom
from diagnose.safety.wording import dangerous_wording
from tests.safety.anybody import play_many
from tests.safety.test_ways_back import curtain_taken_off, prove


@pytest.fixture
def shipped(shipped_book: Book) -> Book:
    return shipped_book


@pytest.fixture(scope="module")
def read_before(shipped_book: Book, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The review of every text that ships, so that only a text that was changed is read anew."""
    file = tmp_path_factory.mktemp("kept") / "kept"
    kept = Kept(file)
    dangerous_wording.prove(Book(shipped_book.trees, None, kept))
    kept.save()
    return file


def _wrongs(invariant: Invariant, trees: Trees, documents: Any = None) -> list[str]:
    return [problem.wrong for problem in invariant.prove(Book(trees, documents)).violations]


def _with(trees: Trees, kind: str, identity: str, **changes: Any) -> Trees:
    entries = dict(getattr(trees, kind))
    entries[identity] = msgspec.structs.replace(entries[identity], **changes)
    return msgspec.structs.replace(trees, **{kind: entries}, digest=f"{trees.digest} {kind} {identity}")


@pytest.mark.parametrize(
    ("kind", "identity", "changes", "says"),
    [
        ("remedies", "replace-springs", {"cautions": ("lock-and-tag",)}, "lacks the caution spring-tension"),
        ("checks", "eye-volts-far-end", {"cautions": ()}, "lacks the caution"),
        ("checks", "splice-looks", {"cautions": ()}, "lacks the caution lock-and-tag"),
        ("proofs", "both-limits", {"cautions": ("lock-and-tag",)}, "lacks the caution door-may-start or moving-door"),
        ("checks", "lens-clean", {"energy": "powered, cover open"}, "electric-shock"),
    ],
)
def test_a_caution_taken_away(shipped: Book, kind: str, identity: str, changes: dict[str, Any], says: str) -> None:
    found = _wrongs(caution_missing, _with(shipped.trees, kind, identity, **changes))
    assert any(identity in wrong and says in wrong for wrong in found), found


def test_a_ladder_without_its_caution(shipped: Book) -> None:
    trees = _with(shipped.trees, "access", "ladder", cautions=())
    check = next(c for c in trees.checks.values() if c.access == "ladder" and "fall-from-height" in c.cautions)
    bare = _with(trees, "checks", check.id, cautions=())
    assert any(check.id in wrong and "fall-from-height" in wrong for wrong in _wrongs(caution_missing, bare))


@pytest.mark.parametrize(
    ("kind", "identity", "changes", "says"),
    [
        ("remedies", "replace-springs", {"who": "technician"}, "is for: technician"),
        ("remedies", "replace-cables", {"energy": "off, locked and tagged"}, "is done in: off, locked and tagged"),
        ("remedies", "reset-drum", {"who": "electrician"}, "is for: electrician"),
        ("remedies", "oil-spring-coils", {"energy": "powered, covers on"}, "is done in: powered, covers on"),
        ("remedies", "reset-fire-release", {"who": "technician"}, "is for: technician"),
        ("checks", "cable-broken-wires", {"who": "anyone"}, "is for: anyone"),
        ("checks", "eye-volts-far-end", {"energy": "powered, covers on"}, "is done in: powered, covers on"),
        ("checks", "station-voltage", {"energy": "powered, covers on"}, "is done in: powered, covers on"),
        ("remedies", "stow-hand-chain", {"how": "Stow it, then run it once."}, "is done in: off, locked and tagged"),
        ("proofs", "manual-release", {"how": "Pull it, restore power, run it."}, "is done in: off, locked and tagged"),
        ("proofs", "both-limits", {"how": "Power locked off, look."}, "is done in: powered, covers on"),
    ],
)
def test_work_given_to_the_wrong_person(
    shipped: Book, kind: str, identity: str, changes: dict[str, Any], says: str
) -> None:
    found = _wrongs(not_for_this_person, _with(shipped.trees, kind, identity, **changes))
    assert any(identity in wrong and says in wrong for wrong in found), found


def test_work_put_to_a_caller(shipped: Book) -> None:
    from diagnose.knowledge.model import Caller

    trees = _with(shipped.trees, "checks", "cable-broken-wires", caller=Caller("Are any wires broken?"))
    assert any("is put to a caller" in wrong for wrong in _wrongs(not_for_this_person, trees))


@pytest.mark.parametrize(
    ("kind", "identity", "changes"),
    [
        ("remedies", "remake-splice", {"how": "Or put a jumper across the eye's terminals and run it."}),
        ("remedies", "replace-springs", {"how": "Wind the new spring seven turns."}),
        ("checks", "lens-clean", {"how": "Tape over the lens and see what it does."}),
        ("proofs", "both-limits", {"passes_when": "It closes with the eyes disabled."}),
        ("causes", "eye-dead", {"explain": "Until it is renewed, hold off the eye."}),
        ("symptoms", "eye-lamp-wrong", {"plain": "Bypass the eye."}),
        ("energy", "off, locked and tagged", {"how": "Disable the edge."}),
        ("energy", "off, locked and tagged", {"how": "Run it to a resting position, then switch off."}),
        ("checks", "safe-to-release", {"how": "A door on a broken spring falls the moment it is disconnected."}),
        ("cautions", "moving-door", {"text": "Wedge the button first."}),
    ],
)
def test_a_text_that_helps_to_defeat_a_device(
    shipped: Book, read_before: Path, kind: str, identity: str, changes: dict[str, Any]
) -> None:
    def wrongs(trees: Trees) -> list[str]:
        return [each.wrong for each in dangerous_wording.prove(Book(trees, None, Kept(read_before))).violations]

    if identity not in getattr(shipped.trees, kind):
        identity = next(iter(getattr(shipped.trees, kind)))
    bad = _with(shipped.trees, kind, identity, **changes)
    assert any(identity in wrong for wrong in wrongs(bad))
    reviewed = _with(bad, kind, identity, reviewed="A. Example, 4 May 2031: only tries the test")
    assert not any(identity in wrong for wrong in wrongs(reviewed))


@pytest.mark.parametrize(
    "proof",
    [
        "eye-blocks-closing",
        "curtain-blocks-closing",
        "edge-reverses",
        "device-loss-stops-closing",
        "reversal-at-object",
        "closing-force",
        "both-limits",
        "closes-only-held",
        "nothing-else-closes",
        "gate-reverses-both-ways",
        "loop-holds-door",
        "manual-release",
        "release-takes-hold",
        "station-in-sight",
        "labels-in-place",
        "full-cycle-under-timer",
        "interlock-opens-circuit",
        "interlock-stops-door",
        "slack-switch-stops-door",
        "hand-chain-holds-motor",
        "fire-door-drop",
    ],
)
def test_a_proof_no_longer_required(shipped: Book, proof: str) -> None:
    found = _wrongs(proofs_incomplete, _with(shipped.trees, "proofs", proof, required="no"))
    assert any("kinds of door lack a proof" in wrong for wrong in found)


def test_a_proof_required_of_some_doors_only(shipped: Book) -> None:
    narrow = {"devices": ("photo-eye",), "drive": ("trolley", "jackshaft", "hoist", "direct", "slide")}
    found = _wrongs(proofs_incomplete, _with(shipped.trees, "proofs", "eye-blocks-closing", applies=narrow))
    assert len(found) == 1 and "drive: swing" in found[0]


def test_a_drop_test_by_anybody(shipped: Book) -> None:
    found = _wrongs(proofs_incomplete, _with(shipped.trees, "proofs", "fire-door-drop", who="technician"))
    assert any("only for: fire-door inspector" in wrong for wrong in found)


def test_a_fire_rating_that_is_not_asked_first(shipped: Book) -> None:
    found = _wrongs(proofs_incomplete, _with(shipped.trees, "facts", "fire-rated", first="no"))
    assert any("is not asked at the start" in wrong for wrong in found)


def test_a_device_nobody_spoke_of(shipped: Book) -> None:
    answers = (*shipped.trees.facts["devices"].answers, "air-curtain")
    found = _wrongs(proofs_incomplete, _with(shipped.trees, "facts", "devices", answers=answers))
    assert any("air-curtain" in wrong for wrong in found)


def test_a_state_nobody_knows_the_way_to(shipped: Book) -> None:
    trees = _with(shipped.trees, "energy", "door held", enter={"any": 12.0}, how="", cautions=())
    found = _wrongs(energy_order, trees)
    assert len(found) == 3


def test_a_program_that_leaves_the_power_step_out(shipped: Book, monkeypatch: pytest.MonkeyPatch) -> None:
    def without(call: Call, kind: Any, identity: str, why: str, left: float, interval: Any, goal: str = "") -> Any:
        return steps.Step(kind, identity, why, 0.0, left, interval, goal or identity, kind)

    monkeypatch.setattr(steps, "in_its_state", without)
    found = _wrongs(energy_order, shipped.trees)
    pairs = sum(
        step.energy not in (state, "any")
        for kind in ("checks", "remedies", "proofs", "jobs")
        for step in getattr(shipped.trees, kind).values()
        for state in shipped.trees.energy
    )
    assert 0 < len(found) <= pairs and "is handed out while the door is in" in found[0]


def test_a_program_that_forgets_who_may(shipped: Book, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(walking, "way_to", lambda situation, check, known, may_do: Way(check, (check,)))
    found = _wrongs(offered_to_whom, shipped.trees)
    assert any("for a door technician, is offered to: anyone" in wrong for wrong in found)


def _keeps_passes(self: Ledger, number: int, remedy: str) -> None:
    self.repairs.append((number, remedy))


def _takes_any_pass(self: Ledger, event: ev.Proved) -> None:
    self.passed.add(event.proof)
    self.failed.pop(event.proof, None)


@pytest.mark.parametrize("fault", ["never asks", "forgets a repair", "takes a failed proof"])
def test_a_program_that_closes_too_easily(small_trees: Trees, monkeypatch: pytest.MonkeyPatch, fault: str) -> None:
    """Each fault alone is found, by the courses of acts and by the proofs left out."""
    if fault == "never asks":
        monkeypatch.setattr(Ledger, "missing", lambda self, reason="": ())
    elif fault == "forgets a repair":
        monkeypatch.setattr(Ledger, "_repair", _keeps_passes)
    else:
        monkeypatch.setattr(Ledger, "_prove", _takes_any_pass)
    small = small_door(small_trees)
    assert small is not None
    assert next(iter(courses(small, 4, Visited())), None) is not None
    assert _wrongs(returned_around_proofs, small_trees)


def _without(kind: str) -> Callable[[Ledger, str], Iterator[Missing]]:
    whole = Ledger._missing
    return lambda self, reason: (each for each in whole(self, reason) if each.kind != kind)


def _forgives(self: Ledger, event: ev.SymptomsStated, before: tuple[str, ...]) -> None:
    """Complaints that are named no more are owed no word."""


def _takes_any_slip(self: Ledger, event: ev.FactStated) -> None:
    _state_fact(self, msgspec.structs.replace(event, reason=event.reason or "?"))


def _not_worked_out(self: Ledger, check: str) -> Iterator[Any]:
    yield from ()


def _sees_only(which: str) -> Callable[[Ledger, ev.Answered], None]:
    """Answers that were looked at, or those that were corrected, count for nothing."""

    def answer(self: Ledger, event: ev.Answered) -> None:
        if which == "no correction":
            event = msgspec.structs.replace(event, reason="?", mode="correction")
        _answer(self, event)

    return answer


_state_fact, _answer = Ledger._state_fact, Ledger._answer

# What is taken out of the rule, one part at a time.
PARTS: dict[str, tuple[str, Any]] = {
    "complaints": ("_missing", _without("complaint")),
    "power": ("_missing", _without("power")),
    "something done": ("_missing", _without("nothing done")),
    "what was not tried": ("_missing", _without("not tried")),
    "failed proofs": ("_missing", _without("failed proof")),
    "what was seen": ("_answer", lambda self, event: None),
    "what is worked out of readings": ("_computed", _not_worked_out),
    "why an answer was wrong": ("_answer", _sees_only("no correction")),
    "complaints named no more": ("_state_symptoms", _forgives),
    "why it was never there": ("_state_fact", _takes_any_slip),
    "what was dropped": ("_with_dropped", lambda self: self.state.facts),
    "stale proofs": ("_repair", _keeps_passes),
    "who, where and after what": ("refusal", lambda self, proof: ""),
}


@pytest.mark.parametrize("part", PARTS)
def test_the_second_rule_misses_each_part_of_the_first(
    shipped_trees: Trees, monkeypatch: pytest.MonkeyPatch, part: str
) -> None:
    name, instead = PARTS[part]
    monkeypatch.setattr(Ledger, name, instead)
    assert play_many(shipped_trees, 200, 60, "1", until=1).wrong, f"nothing went wrong without: {part}"


def test_without_its_stand_in_a_door_whose_guard_is_off_could_not_go_back(
    shipped_trees: Trees, monkeypatch: pytest.MonkeyPatch
) -> None:
    call = curtain_taken_off(shipped_trees)
    prove(call)
    assert call.missing() == ()
    monkeypatch.setattr(Ledger, "_off", lambda self, fact: set())
    assert "curtain-blocks-closing" in {each.id for each in call.missing()}


def test_places_are_in_the_files(tmp_path: Path) -> None:
    from tests.knowledge import overlay

    book = overlay.book(tmp_path, {"remedies": {"new-bulb": {"cautions": ["electric-shock"]}}})
    (problem,) = caution_missing.prove(book).violations
    line = (tmp_path / "trees.yaml").read_text(encoding="utf-8").splitlines()[problem.place.line - 1]
    assert line.strip() == "cautions:"
