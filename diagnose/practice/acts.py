"""What a trainee may do in a practice, as data: a practice is played again from its acts."""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal

import msgspec

from diagnose.calls.events import Came, Outcome


class Act(msgspec.Struct, frozen=True, kw_only=True, tag_field="act"):
    """One thing that the trainee does."""


class Look(Act, frozen=True, kw_only=True, tag="look"):
    check: str


class Mend(Act, frozen=True, kw_only=True, tag="mend"):
    remedy: str


class TryDoor(Act, frozen=True, kw_only=True, tag="try"):
    """Run the door and see whether the complaint is gone."""


class Prove(Act, frozen=True, kw_only=True, tag="prove"):
    proof: str


class Enter(Act, frozen=True, kw_only=True, tag="enter"):
    energy: str


class CallIn(Act, frozen=True, kw_only=True, tag="call in"):
    person: str


class LookOver(Act, frozen=True, kw_only=True, tag="look over"):
    """See what is there of a job of the walk."""

    job: str


class DoJob(Act, frozen=True, kw_only=True, tag="job"):
    """Say of a job of the walk that it is done and right, that it is not right, or that it is not needed here."""

    job: str
    came: Came
    reason: str = ""


class LookInto(Act, frozen=True, kw_only=True, tag="look into"):
    """Take up a complaint that a job or a proof of the walk has shown."""

    symptom: str


class TakeUp(Act, frozen=True, kw_only=True, tag="take up"):
    """Have a job of the walk come next, done before or not."""

    job: str


class TakeBack(Act, frozen=True, kw_only=True, tag="take back"):
    """Count an answer no more: the caller's word, or a reading that was none."""

    check: str


class AskFor(Act, frozen=True, kw_only=True, tag="ask"):
    """A hint, at its price."""

    about: Literal["next", "likely"]


class Finish(Act, frozen=True, kw_only=True, tag="finish"):
    outcome: Outcome
    reason: str = ""


AnyAct = (
    Look | Mend | TryDoor | Prove | Enter | CallIn | LookOver | DoJob | LookInto | TakeUp | TakeBack | AskFor | Finish
)
Recorder = Callable[[AnyAct], None]
# What a hint costs, in points.
HINT_PRICE = {"next": 3.0, "likely": 2.0}
