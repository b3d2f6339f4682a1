"""What is pressed for an action: the usual keys or those that somebody chose, as Textual, the footer and sentences have
them."""

from __future__ import annotations

import re
from collections.abc import Mapping

from textual.binding import Binding, BindingType

from diagnose.knowledge.problems import did_you_mean
from diagnose.tui.actions import ACTIONS, EVERYWHERE, START, Action, Place

_SHOWN_KEYS = {
    "escape": "Esc",
    "question_mark": "?",
    "tab": "Tab",
    "shift+tab": "Shift+Tab",
    "pagedown": "PgDn",
    "pageup": "PgUp",
    "slash": "/",
    "backslash": "\\",
    "space": "Space",
    "insert": "Ins",
}
# Copying what is marked in a line comes before copying the screen.
_LEFT_TO_TEXT = ("ctrl+c",)


def bindings(place: Place) -> list[BindingType]:
    """The keys of a place, as Textual wants them; those that work while something is typed go before its own."""
    made: list[BindingType] = []
    for action in place.actions:
        for letters, identity in ((False, action.meaning), (True, f"{action.meaning}:letter")):
            keys = [key for key in action.keys if is_letter(key) == letters]
            if keys:
                first = keys[0].startswith("ctrl+") and keys[0] not in _LEFT_TO_TEXT
                made.append(Binding(",".join(keys), action.name, action.title, show=False, id=identity, priority=first))
    return made


def is_letter(key: str) -> bool:
    """A key that goes into the text while something is typed."""
    return len(key) == 1 or key in ("slash", "question_mark")


def key_name(key: str) -> str:
    """A key as it is printed on a keyboard: ``F2``, ``Ctrl+Z``, ``W``, ``Esc``."""
    if key in _SHOWN_KEYS:
        return _SHOWN_KEYS[key]
    if key.startswith("ctrl+"):
        return f"Ctrl+{_SHOWN_KEYS.get(key[5:], key[5:].upper())}"
    return key.upper() if key[1:].isdigit() else key


# The keys that the person at the screens chose, by meaning, in place of the usual ones.
_chosen: dict[str, tuple[str, ...]] = {}
# Keys that always do the same, and are not to be had for anything else.
_FIXED = (
    "escape",
    "enter",
    "tab",
    "shift+tab",
    "space",
    "backspace",
    "up",
    "down",
    "left",
    "right",
    "pageup",
    "pagedown",
)
_CHOOSABLE = re.compile(r"f([1-9]|1[0-2])|ctrl\+[a-z]|[a-z]")
# Ctrl and these letters are what a terminal sends for Tab, Enter and Backspace.
_SENT_FOR_OTHERS = ("ctrl+h", "ctrl+i", "ctrl+j", "ctrl+m")


def usual_keys() -> dict[str, tuple[str, ...]]:
    """The usual keys of every meaning, whatever is chosen."""
    return {action.meaning: action.keys for action in reversed(ACTIONS)}


def can_be_chosen(meaning: str) -> bool:
    """Whether people may give it other keys."""
    return not set(usual_keys()[meaning]) & set(_FIXED)


def keys_wanted(wanted: Mapping[str, str]) -> tuple[dict[str, tuple[str, ...]], dict[str, str]]:
    """The keys of each meaning that has others than usual, and why not where one cannot be had, by what was wanted.

    ``wanted`` has keys parted by commas: ``ctrl+u``, ``f6``, or a letter where the usual keys have one too. A letter
    takes the place of the letter, any other key that of the first.
    """
    usual, wrong = usual_keys(), dict[str, str]()
    chosen: dict[str, tuple[str, ...]] = {}
    for meaning, typed in wanted.items():
        keys = [key.strip().casefold() for key in typed.split(",") if key.strip()]
        if meaning not in usual or not can_be_chosen(meaning):
            can = [each for each in usual if can_be_chosen(each)]
            wrong[meaning] = f"'{meaning}' is nothing that a key can be chosen for. {did_you_mean(meaning, can)}"
        elif bad := [key for key in keys if not _CHOOSABLE.fullmatch(key) or key in _SENT_FOR_OTHERS]:
            wrong[meaning] = f"{bad[0]!r} is no key to choose. Write f1 to f12, ctrl+ and a letter, or a letter."
        else:
            letters = [key for key in keys if is_letter(key)] or [key for key in usual[meaning] if is_letter(key)]
            others = [key for key in keys if not is_letter(key)] or [k for k in usual[meaning] if not is_letter(k)]
            if not any(is_letter(key) for key in usual[meaning]):
                letters = []
            chosen[meaning] = (*others, *letters)
    while clash := _clash({**usual, **chosen}):
        key, one, other = clash
        mine, theirs = (one, other) if one in chosen else (other, one)
        wrong[mine] = f"{key_name(key)} already means '{theirs}'. Choose another key, or another for that."
        del chosen[mine]
    return chosen, wrong


def _clash(keys: Mapping[str, tuple[str, ...]]) -> tuple[str, str, str] | None:
    """A key with two meanings, and these; the later one first."""
    taken: dict[str, str] = {}
    for meaning, its in keys.items():
        for key in its:
            if taken.setdefault(key, meaning) != meaning:
                return key, meaning, taken[key]
    return None


def choose(wanted: Mapping[str, str]) -> dict[str, str]:
    """Take these keys from now on; gives them as Textual's key map. What cannot be had stays as it usually is."""
    chosen, _ = keys_wanted(wanted)
    _chosen.clear()
    _chosen.update(chosen)
    return {
        identity: ",".join(some)
        for meaning, keys in chosen.items()
        for letters, identity in ((False, meaning), (True, f"{meaning}:letter"))
        if (some := [key for key in keys if is_letter(key) == letters])
    }


def keys_of(action: Action) -> tuple[str, ...]:
    """The keys of an action as they are now."""
    return _chosen.get(action.meaning, action.keys)


def key_for(meaning: str) -> str:
    """The first key of a meaning, as it is printed on a keyboard: for sentences that name one."""
    return key_name(_chosen.get(meaning, usual_keys()[meaning])[0])


# What ends the footer: the way back, and help. The start has nothing behind it.
_FOOTER_ENDS = {START: ("quit", "help")}
_FOOTER_END = ("back", "help")


def footer_hints(place: Place) -> list[tuple[str, str, str]]:
    """(key, word, action) for the footer: the place's own first, then the way back and help; seven in all."""
    common = {action.name: action for action in EVERYWHERE.actions}
    end = [common[name] for name in _FOOTER_ENDS.get(place, _FOOTER_END)]
    own = [action for action in place.actions if action.hint] if place is not EVERYWHERE else []
    shown = [*own[: 7 - len(end)], *end]
    # There is little room: ``^Z`` for Ctrl+Z.
    return [(key_name(keys_of(each)[0]).replace("Ctrl+", "^"), each.hint, each.name) for each in shown]
