"""What can happen in a call. Events are appended, never changed; ``state.fold`` makes the call's state of them.

An event keeps what was typed as it was typed, what it was taken to mean in SI, who said so, and the digest of
the trees it was answered against.
"""

from __future__ import annotations

from typing import Literal

import msgspec

# The last is a call on which nobody went to the door: it says nothing of what state the door is in.
Outcome = Literal["returned to service", "handed over", "left out of service", "ended without a visit"]
# What a complaint does after a repair.
Now = Literal["gone", "better", "still there", "too early"]
# What became of something that a door was said to have: a slip of who said it, or it is off the door.
Became = Literal["", "never there", "taken off"]
StepKind = Literal["check", "remedy", "proof", "job", "stop"]
# How a piece of work on a walk came out.
Came = Literal["done", "not right", "not needed"]


class Event(msgspec.Struct, frozen=True, kw_only=True, tag_field="event", omit_defaults=True):
    """What every event has. ``at`` is ISO 8601 with its offset; ``sequence`` counts from 1 within the call."""

    sequence: int
    at: str
    by: str = ""
    digest: str = ""


class Opened(Event, frozen=True, kw_only=True, tag="opened"):
    """A call begins: which door, what is complained of or which walk is to be gone, who is there."""

    facts: dict[str, str | tuple[str, ...]] = {}
    symptoms: tuple[str, ...] = ()
    site: str = ""
    door: str = ""
    people: tuple[str, ...] = ("anyone", "technician")
    walk: str = ""


class FactStated(Event, frozen=True, kw_only=True, tag="fact stated"):
    """Something about the door became known, or was corrected; ``""`` forgets it, and ``()`` says there is none.

    ``became`` and ``reason`` say what became of what was stated before, where proofs hung on it.
    """

    fact: str
    value: str | tuple[str, ...]
    became: Became = ""
    reason: str = ""


class PlaceStated(Event, frozen=True, kw_only=True, tag="place stated"):
    """Where the door is, who called about it and how to call back, said or corrected.

    ``None`` leaves the caller, or the number, as it was said before.
    """

    site: str
    door: str = ""
    caller: str | None = None
    number: str | None = None


class SymptomsStated(Event, frozen=True, kw_only=True, tag="symptoms stated"):
    """The whole list of complaints, as it now stands.

    ``reason`` says why what is no longer among them was no complaint of this door, where nobody said that it was gone.
    """

    symptoms: tuple[str, ...]
    reason: str = ""


class PeopleStated(Event, frozen=True, kw_only=True, tag="people stated"):
    """Who is at the door, and so whose steps may be done; ``coming`` says of those still to come when they do.

    ``load`` is what the dispatch sheet puts on the van of those who are sent: each part and how many.
    """

    people: tuple[str, ...]
    coming: dict[str, str] = {}
    load: dict[str, int] = {}


class Answered(Event, frozen=True, kw_only=True, tag="answered"):
    """A check was answered.

    ``value`` is the chosen answer, "could not tell", or numbers in SI (several for a series) with ``unit``, the SI
    unit they are in. ``mode``: ``new`` is what is seen now, ``again`` another look at the same thing (numbers
    are averaged, the same word is believed more, another word replaces it), ``correction`` a better record of what was
    seen then.
    """

    check: str
    raw: str
    value: str | tuple[float, ...]
    unit: str = ""
    mode: Literal["new", "again", "correction"] = "new"
    # A caller's word is believed less than a technician's.
    heard: Literal["seen", "told"] = "seen"
    # Why a correction is right, where a hazard was seen before it.
    reason: str = ""
    # Whether it answers the step that was put; None where none was worked out.
    put: bool | None = None


class Withdrawn(Event, frozen=True, kw_only=True, tag="withdrawn"):
    """An answer is taken back, as if it had not been given; ``reason`` where it had shown a hazard."""

    check: str
    reason: str = ""


class EnergyEntered(Event, frozen=True, kw_only=True, tag="energy entered"):
    """The door was brought into another energy state; ``goal`` is the step it was entered for, by its kind and id."""

    energy: str
    goal_kind: str = ""
    goal: str = ""


class Tried(Event, frozen=True, kw_only=True, tag="tried"):
    """A remedy was done, and every complaint went away or none did."""

    remedy: str
    worked: bool


class RepairDone(Event, frozen=True, kw_only=True, tag="repair done"):
    """A remedy was done, and what it did to the complaints is still to be seen."""

    remedy: str


class Judged(Event, frozen=True, kw_only=True, tag="judged"):
    """What complaints do since the last repair, each for itself. ``when`` says when to look again at what is too early
    to tell: an hour, a weather, a number of days or cycles."""

    outcomes: dict[str, Now]
    when: str = ""


class Proved(Event, frozen=True, kw_only=True, tag="proved"):
    """A proof was run."""

    proof: str
    passed: bool


class JobDone(Event, frozen=True, kw_only=True, tag="job done"):
    """A piece of work on a walk came out right, or did not, or is not needed at this door; ``reason`` says why not."""

    job: str
    came: Came
    reason: str = ""


class PutOff(Event, frozen=True, kw_only=True, tag="put off"):
    """A step is left for later: it is not suggested while there is something else to do.

    ``step`` is the id of a check, remedy or proof; ``stop`` puts off handing the door over. ``missing`` are the parts
    of a remedy that were not there when it was to be done.
    """

    kind: StepKind
    step: str
    missing: tuple[str, ...] = ()


class TakenUp(Event, frozen=True, kw_only=True, tag="taken up"):
    """A step is to be done next, whatever is suggested; it is not put off any more."""

    kind: StepKind
    step: str


class DangerStated(Event, frozen=True, kw_only=True, tag="danger stated"):
    """Whether a sign of danger is there: ``yes``, ``no`` or ``could not tell``.

    ``told`` says that the caller has heard what to do about it.
    """

    danger: str
    answer: str
    told: bool = False


class Then(msgspec.Struct, frozen=True):
    """What was read of a door on a day it was right: numbers in SI, several for repeated looks, the unit and when."""

    values: tuple[float, ...]
    unit: str
    at: str


class Recalled(Event, frozen=True, kw_only=True, tag="recalled"):
    """What earlier calls read of this door, by check, as it was known when this call began.

    ``readings`` is what it read when it was left right; ``lines`` all that was seen since what a check measures was
    last exchanged or set, the earliest first.
    """

    readings: dict[str, Then] = {}
    lines: dict[str, tuple[Then, ...]] = {}


class Noted(Event, frozen=True, kw_only=True, tag="noted"):
    """Anything said that no check asks for."""

    text: str


class Undone(Event, frozen=True, kw_only=True, tag="undone"):
    """An earlier event counts no more. Undoing an ``Undone`` brings its event back.

    ``reason`` says why it is no slip to forget it, where the closing of the call hung on it.
    """

    undoes: int
    reason: str = ""


class Closed(Event, frozen=True, kw_only=True, tag="closed"):
    """The call ends, with the door's state and the reason."""

    outcome: Outcome
    reason: str = ""


class Reopened(Event, frozen=True, kw_only=True, tag="reopened"):
    """A closed call goes on."""

    reason: str = ""


AnyEvent = (
    Opened
    | FactStated
    | PlaceStated
    | SymptomsStated
    | PeopleStated
    | Answered
    | Withdrawn
    | EnergyEntered
    | Tried
    | RepairDone
    | Judged
    | Proved
    | JobDone
    | PutOff
    | TakenUp
    | DangerStated
    | Recalled
    | Noted
    | Undone
    | Closed
    | Reopened
)
