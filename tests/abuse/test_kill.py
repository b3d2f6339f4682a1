"""Killed at any moment, nothing that was taken is lost; and a call picked up again is the call that was put down."""

from __future__ import annotations

import functools
import os
import random
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from diagnose.calls.answering import AnswerError
from diagnose.calls.call import Call, CallError
from diagnose.calls.events import Answered
from diagnose.calls.state import fold
from diagnose.calls.store import Store
from diagnose.knowledge.load import load_trees
from diagnose.knowledge.model import Trees
from tests.conftest import SMALL

_ROUNDS = 5
_CHILD = """
import sys
from diagnose.calls.call import Call
from diagnose.calls.store import Store
from diagnose.knowledge.load import load_trees

folder, place, call_id = sys.argv[1:]
store = Store.open(place)
call = Call(load_trees(folder), history=store.events(call_id), recorder=store.recorder(call_id))
while True:
    number = len(call.events) + 1
    call.answer("eye-volts-far-end", f"{number % 40} V", mode="again")
    print("taken", number, flush=True)
"""


@functools.cache
def trees() -> Trees:
    return load_trees(SMALL, cache=False)


def test_every_answer_printed_as_taken_is_on_the_disk_after_a_kill(tmp_path: Path) -> None:
    chance = random.Random(20261125)
    place = str(tmp_path / "calls.sqlite3")
    store = Store.open(place)
    call_id = store.begin()
    Call(trees(), {"devices": ("photo-eye",)}, ["eye-lamp-wrong"], recorder=store.recorder(call_id))
    store.close()
    load_trees(SMALL)  # compiled once, for every child
    taken = 1
    for _ in range(_ROUNDS):
        child = subprocess.Popen(
            [sys.executable, "-c", _CHILD, str(SMALL), place, call_id],
            stdout=subprocess.PIPE,
            text=True,
            env=os.environ | {"PYTHONPATH": str(Path(__file__).parents[2])},
        )
        assert child.stdout is not None
        first = child.stdout.readline()
        assert first == f"taken {taken + 1}\n", "the child goes on where the last one was killed"
        for _ in range(chance.randrange(40)):
            child.stdout.readline()
        child.kill()
        printed = child.stdout.read().splitlines()
        child.stdout.close()
        child.wait()
        whole = [line for line in printed if line.startswith("taken ") and line.split()[1].isdecimal()]
        store = Store.open(place)
        events = store.events(call_id)
        store.close()
        assert [event.sequence for event in events] == list(range(1, len(events) + 1))
        last_printed = int(whole[-1].split()[1]) if whole else taken + 1
        assert len(events) >= last_printed
        written = [event for event in events if isinstance(event, Answered)]
        assert [event.raw for event in written] == [f"{event.sequence % 40} V" for event in written]
        taken = len(events)
    assert taken > _ROUNDS


READINGS = ("22.6 V", "24", "1,5 V", "OL", "?")
NOTES = st.text(st.characters(exclude_categories=["Cs"]), max_size=12)


class Sitting(RuleBasedStateMachine):
    """A call worked on, put down and picked up again in any order."""

    @initialize(facts=st.sampled_from([{}, {"devices": ("photo-eye", "timer")}, {"drive": "hoist"}]))
    def begin(self, facts: dict[str, Any]) -> None:
        self.folder = tempfile.TemporaryDirectory()
        self.place = str(Path(self.folder.name) / "calls.sqlite3")
        self.store = Store.open(self.place)
        self.call_id = self.store.begin()
        self.call = Call(trees(), facts, ["eye-lamp-wrong"], recorder=self.store.recorder(self.call_id))
        self.said = 1

    def teardown(self) -> None:
        if hasattr(self, "store"):
            self.store.close()
            self.folder.cleanup()

    def do(self, step: Any, *arguments: Any, **named: Any) -> None:
        """A step either happens and is one more event, or is refused and is none."""
        try:
            step(*arguments, **named)
        except (AnswerError, CallError):
            return
        self.said += 1

    @rule(
        check=st.sampled_from(["eye-lamp-receiver", "lens-clean", "splice-looks", "impact"]),
        text=st.sampled_from(["1", "2", "dark", "clean", "could not tell", "", "nonsense"]),
        mode=st.sampled_from(["new", "again", "correction"]),
    )
    def answer(self, check: str, text: str, mode: Any) -> None:
        self.do(self.call.answer, check, text, mode=mode)

    @rule(text=st.sampled_from(READINGS), mode=st.sampled_from(["new", "again", "correction"]))
    def read(self, text: str, mode: Any) -> None:
        self.do(self.call.answer, "eye-volts-far-end", text, mode=mode)

    @rule(check=st.sampled_from(["eye-lamp-receiver", "lens-clean", "eye-volts-far-end"]))
    def withdraw(self, check: str) -> None:
        self.do(self.call.withdraw, check)

    @rule()
    def undo(self) -> None:
        if self.call.undo("a slip of the hand"):
            self.said += 1

    @rule(remedy=st.sampled_from(["clean-lenses", "realign-eyes", "remake-splice"]), worked=st.booleans())
    def try_remedy(self, remedy: str, worked: bool) -> None:
        self.do(self.call.tried, remedy, worked)

    @rule(passed=st.booleans(), which=st.integers(0, 20))
    def prove(self, passed: bool, which: int) -> None:
        needed = self.call.needed_proofs()
        self.do(self.call.proved, needed[which % len(needed)].id, passed)

    @rule(energy=st.sampled_from(["powered, covers on", "off, locked and tagged", "nowhere"]))
    def enter(self, energy: str) -> None:
        self.do(self.call.enter, energy)

    @rule(text=NOTES)
    def note(self, text: str) -> None:
        self.do(self.call.note, text)

    @rule(drive=st.sampled_from(["trolley", "hoist", "", "wheels"]))
    def state_fact(self, drive: str) -> None:
        self.do(self.call.state_fact, "drive", drive)

    @rule(
        outcome=st.sampled_from(["returned to service", "left out of service"]),
        reason=st.sampled_from(["", "parts"]),
    )
    def close(self, outcome: Any, reason: str) -> None:
        self.do(self.call.close, outcome, reason)

    @precondition(lambda self: self.call.state.outcome is not None)
    @rule()
    def reopen(self) -> None:
        self.do(self.call.reopen)

    @rule()
    def resume(self) -> None:
        """The lid is closed and opened: another program, the same call."""
        before = self.call.state
        self.store.close()
        self.store = Store.open(self.place)
        history = self.store.events(self.call_id)
        self.call = Call(trees(), history=history, recorder=self.store.recorder(self.call_id))
        assert self.call.state == before

    @rule()
    def replay(self) -> None:
        """Every beginning of the call is a call, and the last of them is this one."""
        events = self.store.events(self.call_id)
        for length in range(1, len(events) + 1):
            state = fold(events[:length])
        assert state == self.call.state
        again = Call(trees(), history=events)
        assert [each.probability for each in again.likely()] == [each.probability for each in self.call.likely()]

    @invariant()
    def nothing_is_lost(self) -> None:
        if not hasattr(self, "call"):
            return
        events = self.store.events(self.call_id)
        assert len(events) == self.said
        assert tuple(events) == self.call.events
        assert fold(events) == self.call.state


TestSitting = Sitting.TestCase
TestSitting.settings = settings(
    max_examples=25, stateful_step_count=25, deadline=None, suppress_health_check=list(HealthCheck)
)
