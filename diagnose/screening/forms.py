"""The open forms in which calls, doors and sheets leave the program and requests come in: JSON Schema (draft 2020-12).

The schemas in ``schemas/`` are made of the types here; a test holds the two equal.
"""

from __future__ import annotations

import inspect
from typing import Any, Literal, TypedDict

import msgspec

from diagnose.calls.doors import DoorRecord
from diagnose.calls.events import AnyEvent
from diagnose.screening.batch import Request

CallFile = TypedDict(
    "CallFile", {"diagnose call": Literal[1], "id": str, "sha256": str, "events": list[AnyEvent]}, total=True
)


class Named(TypedDict):
    id: str
    title: str


class Needed(Named):
    """Something or somebody to send; ``needed`` is the chance of it, 1 where it goes in any case."""

    needed: float


class Danger(Named):
    instruction: str
    by: str


class Urgency(TypedDict):
    level: str
    reasons: list[str]


class Crew(TypedDict):
    people: int
    send: list[Needed]
    at_site: list[Needed]


class Minutes(TypedDict):
    median: int
    eight_in_ten_within: int
    one_in_ten_within: int


class Part(TypedDict):
    part: str
    title: str
    count: int
    needed: float
    worth_from: float


class LeftPart(TypedDict):
    part: str
    needed: float


class VanLoad(TypedDict):
    weight_kg: float
    volume_l: float


class LikelyCause(TypedDict):
    cause: str
    title: str
    probability: float
    remedy: str | None


class SheetForm(TypedDict):
    """A dispatch sheet. ``minutes`` are at the door; chances lie between 0 and 1."""

    site: str
    door: str
    caller: str
    call_back: str
    complaints: list[str]
    danger: list[Danger]
    danger_not_asked: list[str]
    urgency: Urgency
    crew: Crew
    work_from: list[Needed]
    left_at_home: list[Needed]
    minutes: Minutes
    parts: list[Part]
    no_room_for: list[LeftPart]
    van: VanLoad
    all_parts_on_van: float
    tools: list[str]
    ready: list[Named]
    likely: list[LikelyCause]
    unlisted: float


_FORMS: dict[str, Any] = {"call": CallFile, "door": DoorRecord, "sheet": SheetForm, "request": list[Request]}
FORMS = tuple(_FORMS)


def schema(form: str) -> str:
    """The JSON Schema of one of ``FORMS``, as the text of a file."""
    made = msgspec.json.schema(_FORMS[form])
    if form == "call":
        # A meter's "OL" is no number of JSON's: it stands as null.
        made["$defs"]["Answered"]["properties"]["value"]["anyOf"][1]["items"] = {"type": ["number", "null"]}
    whole = {"$schema": "https://json-schema.org/draft/2020-12/schema", **_described(made)}
    return msgspec.json.format(msgspec.json.encode(whole, order="sorted"), indent=2).decode() + "\n"


def _described(part: Any) -> Any:
    """A schema with its descriptions as a reader has them: whether docstrings come indented is the library's choice."""
    if isinstance(part, dict):
        return {
            name: inspect.cleandoc(each) if name == "description" and isinstance(each, str) else _described(each)
            for name, each in part.items()
        }
    return [_described(each) for each in part] if isinstance(part, list) else part
