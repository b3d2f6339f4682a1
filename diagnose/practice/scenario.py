"""A scenario: a practice call on an invented door, and the fault in it, veiled.

What the trainee must not see at a glance (the causes, the findings fixed by hand, the teaching point) stands in the
file as one veiled text. The veil keeps an eye from straying, no more: ``diagnose scenario reveal`` lifts it.
"""

from __future__ import annotations

import base64
import binascii
import hashlib
import itertools
import textwrap
from collections.abc import Collection
from typing import TYPE_CHECKING, Literal

import msgspec

from diagnose.knowledge.model import Entry, Text, Trees, applies

if TYPE_CHECKING:
    from diagnose.calls.call import Call, Clock

Level = Literal["easy", "medium", "hard"]
LEVELS: tuple[Level, ...] = ("easy", "medium", "hard")
# Bits between what the first screen says of the causes and the truth, up to which a door is easy, and medium.
_LEVEL_BITS = (2.0, 4.0)
_CHECKSUM = 4
# Below this share of doors with such a fault, an answer is one that leads astray.
_ASTRAY = 0.25


class VeilError(ValueError):
    """The veiled text is damaged, or was veiled under another name; ``str`` says what to do."""


class Wrong(msgspec.Struct, frozen=True, kw_only=True):
    """Wrong work that a walk comes upon: job → what one sees there, and what ``comes`` of it at a door handed over."""

    sights: dict[str, Text]
    comes: Text


class Hidden(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """What a scenario hides: ``causes`` in the door, ``findings`` fixed by hand (check → what one would type), and
    what is learnt from it. Of a walk, the ``wrong`` work by the cause that it is, and ``sights`` of work that is right.
    """

    causes: tuple[str, ...]
    findings: dict[str, str] = {}
    wrong: dict[str, Wrong] = {}
    sights: dict[str, Text] = {}
    teaches: str = ""


class Scenario(Entry, frozen=True, kw_only=True):
    """A practice call, or a ``walk`` to be practised. Its id is its file's name; ``hidden`` is the veiled form of what
    stands below it.

    ``caller`` is what was said on the phone: check → answer, true or not. ``people`` are those at the door.
    """

    title: Text
    site: Text
    door: Text
    story: Text
    level: Level
    symptoms: tuple[str, ...] = ()
    walk: str = ""
    facts: dict[str, str | tuple[str, ...]]
    caller: dict[str, str] = msgspec.field(default_factory=dict)
    people: tuple[str, ...] = ("anyone", "technician")
    hidden: str = ""
    causes: tuple[str, ...] = ()
    findings: dict[str, str] = msgspec.field(default_factory=dict)
    wrong: dict[str, Wrong] = msgspec.field(default_factory=dict)
    sights: dict[str, Text] = msgspec.field(default_factory=dict)
    teaches: str = ""

    @property
    def secret(self) -> Hidden:
        return Hidden(**{name: getattr(self, name) for name in Hidden.__struct_fields__})

    def wrong_at(self, job: str, causes: Collection[str]) -> str:
        """Which of ``causes`` shows at a job of the walk; ``""`` where none does."""
        return next((cause for cause, wrong in self.wrong.items() if cause in causes and job in wrong.sights), "")


def veil(identity: str, hidden: Hidden) -> str:
    """``hidden`` as a text that says nothing to the eye, bound to the scenario's id."""
    body = msgspec.json.encode(hidden)
    return base64.b64encode(_checksum(identity, body) + _mixed(identity, body)).decode()


def unveil(identity: str, text: str) -> Hidden:
    """What ``veil`` made the text of. Raises ``VeilError``."""
    try:
        whole = base64.b64decode("".join(text.split()).encode(), validate=True)
        body = _mixed(identity, whole[_CHECKSUM:])
        hidden = msgspec.json.decode(body, type=Hidden) if whole[:_CHECKSUM] == _checksum(identity, body) else None
    except (binascii.Error, UnicodeError, msgspec.MsgspecError):
        raise VeilError("This is no veiled text. Take it from a copy of the file, or write it anew.") from None
    if hidden is None:
        raise VeilError(
            "It does not fit the file's name, or is damaged. A scenario that was renamed is veiled again: put the old "
            "name back, reveal it, rename it, and veil it."
        )
    return hidden


def veiled_lines(identity: str, hidden: Hidden) -> list[str]:
    """The lines of a file that hide ``hidden``."""
    return ["hidden: >-", *textwrap.wrap(veil(identity, hidden), 100, initial_indent="  ", subsequent_indent="  ")]


def _checksum(identity: str, body: bytes) -> bytes:
    return hashlib.sha256(identity.encode() + b"\0" + body).digest()[:_CHECKSUM]


def _mixed(identity: str, body: bytes) -> bytes:
    """Each byte turned by one that the id and its place give: equal causes do not look alike, twice is the same."""
    blocks = (hashlib.sha256(f"{identity} {number}".encode()).digest() for number in itertools.count())
    stream = itertools.chain.from_iterable(blocks)
    return bytes(byte ^ turn for byte, turn in zip(body, stream, strict=False))


# --- what a scenario is like --------------------------------------------------------------------------------------


def first_screen(trees: Trees, scenario: Scenario, clock: Clock | None = None) -> Call:
    """The call as the trainee takes it up: the complaint or the walk, the door, and what the caller said."""
    from diagnose.calls.call import Call

    call = Call(
        trees,
        scenario.facts,
        scenario.symptoms,
        site=scenario.site,
        door=scenario.door,
        people=scenario.people,
        walk=scenario.walk,
        clock=clock,
    )
    for check, said in scenario.caller.items():
        call.answer(check, said, heard="told")
    return call


def believed(call: Call, causes: Collection[str]) -> dict[str, float]:
    """How likely each of ``causes`` is to be in the door, by what the call knows."""
    present = call.inference.belief.causes()
    names = call.inference.situation.causes
    return {cause: float(present[names.index(cause)]) if cause in names else 0.0 for cause in sorted(causes)}


def belief_in(call: Call, causes: Collection[str]) -> float:
    """How likely it is held that the causes are in the door, the least likely of them counting."""
    return min(believed(call, causes).values())


def level_of(trees: Trees, scenario: Scenario) -> Level:
    """How hard a scenario is: the bits from its first screen to the truth, more for a second fault."""
    import math

    call = first_screen(trees, scenario)
    bits = -math.log2(max(belief_in(call, scenario.causes), 1e-6)) + (len(scenario.causes) - 1)
    return LEVELS[sum(bits > bound for bound in _LEVEL_BITS)]


def family_of(trees: Trees, scenario: Scenario) -> str:
    """The family of its first symptom; of a walk, of the first complaint that its wrong work shows."""
    of_walk = [opened_by(trees, cause, job)[0] for cause, wrong in scenario.wrong.items() for job in wrong.sights]
    named = [*scenario.symptoms, *of_walk]
    return trees.symptoms[named[0]].family if named else ""


def opened_by(trees: Trees, cause: str, job: str) -> tuple[str, ...]:
    """The complaints that a job opens where it is not right, of those that a cause brings about."""
    return tuple(symptom for symptom in trees.jobs[job].raises if cause in trees.symptoms[symptom].causes)


def misleads(trees: Trees, scenario: Scenario) -> tuple[str, ...]:
    """Those checks of which the caller said what a door with these faults seldom shows."""
    from diagnose.knowledge.distributions import Shares

    astray = []
    for name, said in scenario.caller.items():
        check = trees.checks[name]
        shown = [state for cause in scenario.causes if (state := trees.causes[cause].signs.get(name)) is not None]
        if not shown and check.healthy is not None:
            shown = [check.healthy]
        found = scenario.findings.get(name)
        if found is not None:
            wrong = found != said
        else:
            shares = [state.shares.get(said, 0.0) for state in shown if isinstance(state, Shares)]
            wrong = bool(shares) and max(shares) < _ASTRAY
        if wrong:
            astray.append(name)
    return tuple(astray)


def remedies_for(trees: Trees, cause: str, scenario: Scenario) -> tuple[str, ...]:
    """The remedies that remove a cause from this door."""
    known = trees.causes[cause].remedies
    return tuple(remedy for remedy in known if applies(trees.remedies[remedy].applies, scenario.facts))
