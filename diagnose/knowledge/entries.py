"""From marked YAML to one frozen entry: every field read by its type, every fault reported at its line."""

from __future__ import annotations

import re
import types
import typing
from collections.abc import Callable, Mapping
from typing import Annotated, Any, TypeVar, get_args, get_origin

import msgspec

from diagnose.knowledge.marked_yaml import Marked
from diagnose.knowledge.problems import Problems, did_you_mean
from diagnose.knowledge.words import NotUnderstood, shortened

Path = tuple[str | int, ...]
Read = Callable[[Any], Any]
_Struct = TypeVar("_Struct", bound=msgspec.Struct)


def read_entry(
    shape: type[_Struct],
    marked: Marked,
    path: Path,
    problems: Problems,
    given: Mapping[str, Any] | None = None,
    special: Mapping[str, Read] | None = None,
) -> _Struct | None:
    """The entry written at ``path``, or ``None`` when any of its fields cannot be read.

    ``given`` are field values that stand elsewhere (the id, the file's source); ``special`` reads the fields
    whose meaning depends on other entries. Keys are written with hyphens for the underscores of field names.
    """
    written = _at(marked.value, path)
    if not isinstance(written, Mapping):
        problems.error(marked.place(*path), "An entry is a list of 'key: value'.", "Write it so.", "shape")
        return None
    fields = {field.encode_name: field for field in msgspec.structs.fields(shape)}
    values: dict[str, Any] = dict(given or {})
    sound = True
    for key, value in written.items():
        name = key.replace("-", "_")
        place = marked.spot(*path, key)
        if name not in fields or "_" in key or name == "id":
            writable = [field.replace("_", "-") for field in fields if field != "id"]
            problems.error(place, f"'{key}' is no key here.", did_you_mean(key, writable), "unknown-key")
            sound = False
            continue
        try:
            if special and name in special:
                values[name] = special[name](value)
            else:
                read = _read(fields[name].type, value, marked, (*path, key), problems)
                values[name] = msgspec.convert(read, fields[name].type, from_attributes=True)
        except NotUnderstood as error:
            problems.error(getattr(error, "place", place), error.wrong, error.mend, "shape")
            sound = False
        except msgspec.ValidationError as error:
            wrong = f"'{key}' {_plain(error, value)}."
            problems.error(place, wrong, _wanted(fields[name].type), "shape")
            sound = False
    for name, field in fields.items():
        if field.required and name not in values:
            key = name.replace("_", "-")
            if key not in written:
                problems.error(marked.place(*path), f"'{key}' is missing.", f"Add '{key}:' here.", "missing-key")
            sound = False
    return shape(**values) if sound else None


def _at(value: Any, path: Path) -> Any:
    for step in path:
        value = value[step]
    return value


def _read(kind: Any, value: Any, marked: Marked, path: Path, problems: Problems) -> Any:
    """Bring ``value`` to what ``msgspec.convert`` accepts for ``kind``; words become numbers on the way."""
    origin = get_origin(kind)
    if origin is Annotated:
        for note in get_args(kind)[1:]:
            if isinstance(note, msgspec.Meta) and note.extra:
                return note.extra["read"](value)
        return _read(get_args(kind)[0], value, marked, path, problems)
    if origin in (typing.Union, types.UnionType):
        if value is None:
            return None
        inner = next(part for part in get_args(kind) if part is not type(None))
        return _read(inner, value, marked, path, problems)
    if origin is tuple:
        items = value if isinstance(value, list) else [value]
        return [str(item) if isinstance(item, (int, float)) else item for item in items]
    if origin is dict:
        if isinstance(value, list) and all(isinstance(item, str) for item in value):
            raise NotUnderstood("A list stands here where names need values.", "Write 'name: value' lines.")
        if not isinstance(value, Mapping):
            raise NotUnderstood(f"'{value}' stands here where names need values.", "Write 'name: value' lines.")
        inner = get_args(kind)[1]
        read: dict[str, Any] = {}
        faults: list[NotUnderstood] = []
        for key, item in value.items():
            try:
                read[key] = _read(inner, item, marked, (*path, key), problems)
            except NotUnderstood as error:
                error.place = marked.spot(*path, key)  # type: ignore[attr-defined]
                faults.append(error)
        if faults:
            raise faults[0]
        return read
    if kind is str and isinstance(value, (int, float)):
        return str(value)
    if isinstance(kind, type) and issubclass(kind, msgspec.Struct):
        fields = kind.__struct_fields__
        if isinstance(value, str):
            return kind(**{fields[0]: value})
        # An entry below another has its name for an id, and the file's word of where its numbers come from.
        given = {"id": path[-1], "source": str(marked.value.get("source", "estimate"))} if "id" in fields else None
        entry = read_entry(kind, marked, path, problems, given)
        if entry is None:
            raise NotUnderstood(f"'{path[-1]}' cannot be read.", "Mend what is said of it.")
        return entry
    return value


# What the library calls a kind of value, and what a file holds of that kind.
_HELD = {
    "str": "one word or one text",
    "int": "a whole number",
    "float": "a number",
    "bool": "yes or no",
    "array": "a list",
    "object": "'key: value' lines",
    "null": "nothing",
}
_EXPECTED = re.compile(r"Expected `(\w+)`(?: \| `?null`?)?, got `(\w+)`")


def _plain(error: msgspec.ValidationError, value: Any) -> str:
    """What is wrong with a value, in the words of the file and not of the library that read it."""
    said = str(error)
    if mistaken := _EXPECTED.match(said):
        wanted, got = (_HELD.get(kind, kind) for kind in mistaken.groups())
        return f"must be {wanted}, found {got}"
    if limit := re.match(r"Expected `(?:int|float)` (>=|<=|>|<) ([\d.]+)", said):
        words = {">=": "less than", "<=": "more than", ">": "not above", "<": "not below"}
        return f"is {words[limit[1]]} {float(limit[2]):g}"
    if said.startswith("Expected `str` of length"):
        return "is empty"
    if said.startswith("Invalid enum value"):
        return f"is '{shortened(value)}', which is none of the words that may stand here"
    return "is not of the kind that belongs here"


def _wanted(kind: Any) -> str:
    base = get_args(kind)[0] if get_origin(kind) is Annotated else kind
    if get_origin(base) is typing.Literal:
        return f"Write one of: {', '.join(str(choice) for choice in get_args(base))}."
    names = {
        str: "Write text; in quotes where it begins with a bracket or holds a comma in one.",
        float: "Write a number.",
        int: "Write a whole number.",
    }
    return names.get(base, "Look at an entry that works.")
