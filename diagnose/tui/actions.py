"""Every action of the screens, written once: keys, footer, help and command palette are all made from this list.

A screen has a *place*, and the actions of a place are methods ``action_NAME`` of the screen (of the app for
``everywhere``). A key has one meaning on every screen, and a meaning the same keys. The first key of an action works
while something is typed too; a letter does only when not.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from textual.binding import Binding, BindingType

from diagnose.knowledge.problems import did_you_mean
from diagnose.tui.extras import EXTRAS

EVERYWHERE = "everywhere"
START = "start"
DOOR = "door"
COMPLAINTS = "complaints"
CALL = "call"
CARD = "card"
TRAIL = "answers"
CALCULATOR = "calculator"
CALLS = "calls"
READING = "reading"
REPORT = "report"
PHONE = "phone"
SIGNS = "signs"
TOLD = "told"
WHERE = "where"
READ_OUT = "read out"
SHEET = "sheet"
PRACTICE = "practice"
SHOP = "shop"

PLACE_TITLES = {
    EVERYWHERE: "Everywhere",
    START: "At the start",
    DOOR: "About the door",
    COMPLAINTS: "Among the complaints of a door",
    CALL: "During a call",
    CARD: "At a step's text",
    TRAIL: "Among the answers given",
    CALLS: "In the list of calls",
    READING: "In a text to be read",
    CALCULATOR: "In the calculator",
    REPORT: "In the report",
    PHONE: "On the phone",
    SIGNS: "At the signs of danger, on the phone",
    TOLD: "At what is read out about a danger",
    WHERE: "At the place of the door, on the phone",
    READ_OUT: "At the complaint, on the phone",
    SHEET: "At the dispatch sheet",
    PRACTICE: "In practice",
    SHOP: "In the shop's figures",
}


@dataclass(frozen=True)
class Action:
    """``name`` is the method without ``action_``; ``hint`` the footer's word, empty where the footer omits it.

    ``means`` is what its keys mean on every screen, where the method has another name; people choose other keys by it.
    """

    name: str
    title: str
    explain: str
    keys: tuple[str, ...]
    place: str = EVERYWHERE
    hint: str = ""
    means: str = ""

    @property
    def meaning(self) -> str:
        return self.means or self.name


# What is meant on several screens has the same keys on each.
_EXPLAIN = ("f2", "w")
_GO_ON = ("f5",)
_UNDO = ("ctrl+z", "u")
_NOTE = ("f9", "n")
_END = ("f8", "x")
_DOOR = ("ctrl+o", "o")
_HISTORY = ("ctrl+r", "h")
_NEXT, _BEFORE = ("tab",), ("shift+tab",)


def _meaning(place: str) -> Action:
    told = "The same in other words, to be read out."
    return Action("meaning", "What do you mean?", told, _EXPLAIN, place, "Mean?", means="explain")


def _language(place: str) -> Action:
    told = "Read out in the next language the trees have."
    return Action("language", "Another language", told, ("ctrl+l", "l"), place, "Language")


def _read_out(place: str) -> Action:
    told = "What the caller has to know about each danger, in full, and whether they have heard it."
    return Action("read_out", "Read out again", told, ("ctrl+x",), place, means="again")


def _step_back(place: str) -> Action:
    told = "Take the last thing back, or go back to what was asked before."
    return Action("undo", "One back", told, _UNDO, place, "Undo")


def _save(place: str, what: str) -> Action:
    told = f"Write the {what} into a file: its ending says in which form."
    return Action("save_as", "Save to a file", told, ("ctrl+s",), place, "Save", means="save")


def _go_on(place: str, told: str, name: str = "go_on") -> Action:
    return Action(name, "Go on", told, _GO_ON, place, "Go on", means="go-on")


ACTIONS: tuple[Action, ...] = (
    # --- during a call: what is wanted most comes first, the footer keeps what fits
    Action(
        "why",
        "Why this next?",
        "Why it is asked, what each finding would mean, and what would change the lead.",
        _EXPLAIN,
        CALL,
        "Why",
        means="explain",
    ),
    Action(
        "trail",
        "Answers given",
        "Change an answer, repeat a reading, or take one back.",
        ("f4", "t"),
        CALL,
        "Answers",
        means="answers",
    ),
    Action(
        "known",
        "I already know something",
        "Find any check and answer it at once.",
        ("ctrl+k", "k"),
        CALL,
        "I know",
        means="know",
    ),
    Action("repair", "Go to a repair", "Choose a repair of any cause yourself.", ("f6", "r"), CALL, "Repair"),
    Action("undo", "Undo", "Take back the last thing said.", _UNDO, CALL, "Undo"),
    Action(
        "evidence",
        "Evidence for and against",
        "What speaks for and against each cause, answer by answer.",
        ("ctrl+e", "e"),
        CALL,
    ),
    Action("later", "Later", "Put this step off until there is nothing better to do.", ("ctrl+y", "y"), CALL),
    Action(
        "another_way", "Another way", "Put this step off and choose another.", ("ctrl+n", "a"), CALL, means="instead"
    ),
    Action(
        "map",
        "Map of the way so far",
        "Complaint, answers, what they opened, and where it points.",
        ("ctrl+w", "m"),
        CALL,
    ),
    Action(
        "chain",
        "The chain of functions",
        "What works, what is lost, and where the fault lies.",
        ("f11", "f"),
        CALL,
        "Chain",
    ),
    Action(
        "look_again",
        "See for yourself what was told",
        "Ask again what the caller told and somebody who can see should look at, the most important first.",
        ("ctrl+x", "s"),
        CALL,
        means="again",
    ),
    Action("proofs", "Proofs", "What must pass before the door returns, and go to one.", ("ctrl+g", "g"), CALL),
    Action("energy", "State of the door", "Say which state the door is in.", ("ctrl+b", "b"), CALL, means="state"),
    Action("history", "Every entry", "All that was said and done in this call, in order.", _HISTORY, CALL),
    Action("note", "Note something", "Keep a sentence that no check asks for.", _NOTE, CALL),
    Action("report", "Report", "Read the record of this call, and save it.", ("f10", "p"), CALL),
    Action(
        "door",
        "The door, the complaint, who is here",
        "See and correct what was said at the beginning.",
        _DOOR,
        CALL,
    ),
    Action(
        "leave",
        "Leave the door out of service",
        "End the call with the door out of service, and say why.",
        _END,
        CALL,
        means="end",
    ),
    Action(
        "save_now",
        "Save what is not saved yet",
        "Try again to put on the disk what is only in memory.",
        ("ctrl+s",),
        CALL,
        means="save",
    ),
    # --- at a step's text
    Action(
        "read_on",
        "Read on",
        "Down in the step's text; what can be said comes after its end.",
        ("pagedown", "space"),
        CARD,
    ),
    Action(
        "read_back", "Read back", "Up in the step's text; from its beginning, the cautions in full.", ("pageup",), CARD
    ),
    # --- among the answers
    Action(
        "again",
        "Measure again",
        "Take the reading once more; the two are averaged.",
        ("ctrl+x", "s"),
        TRAIL,
        "Measure again",
    ),
    Action("withdraw", "Take the answer back", "As if it had not been given.", _UNDO, TRAIL, "Take back", means="undo"),
    # --- at the start
    *(
        Action(f"extra('{extra.key}')", extra.title, "", (extra.key,), START, extra.hint, extra.means)
        for extra in EXTRAS
    ),
    Action("calls", "All calls", "Every call kept here, closed ones too.", _HISTORY, START, "Calls", means="history"),
    Action("end", "End a call left open", "Nobody goes on with it: end it, and say why.", _END, START),
    # --- about the door
    Action("next_row", "Next line", "Go on without changing this one.", _NEXT, DOOR, "Next", means="next"),
    Action("previous_row", "Line before", "Go back to the line above.", _BEFORE, DOOR, "Before", means="before"),
    _go_on(DOOR, "To the questions; whatever is not answered here stays not known.", "begin"),
    # --- among the complaints
    _go_on(COMPLAINTS, "Keep what is ticked.", "keep_ticked"),
    # --- in the list of calls
    Action("next_state", "Calls of the next state", "All, open, waiting, closed.", _NEXT, CALLS, "Which", means="next"),
    Action("state_before", "Calls of the state before", "The other way round.", _BEFORE, CALLS, means="before"),
    Action("end", "End a call left open", "Nobody goes on with it: end it, and say why.", _END, CALLS, "End one"),
    Action("order", "Another order", "The latest first, or by site, state or complaint.", ("ctrl+a",), CALLS, "Order"),
    _go_on(CALLS, "To what all closed calls come to."),
    # --- in a text to be read
    Action("find", "Find in the text", "Go to the next line that has a word.", ("slash", "ctrl+f"), READING, "Find"),
    Action(
        "keep", "Note the result", "Write the working into the call.", _NOTE, CALCULATOR, "Note result", means="note"
    ),
    # --- in the report
    _save(REPORT, "report"),
    # --- in the shop's figures
    _save(SHOP, "figures"),
    _go_on(SHOP, "To what the closed calls propose to change in the trees."),
    # --- on the phone
    _meaning(PHONE),
    _language(PHONE),
    Action("danger", "Danger", "Go through the signs of danger again.", ("ctrl+d", "d"), PHONE, "Danger"),
    Action("sheet", "Dispatch sheet", "Ask no more, and draw up the sheet.", _GO_ON, PHONE, "Sheet", means="go-on"),
    Action("undo", "Undo", "Take back the last thing the caller said.", _UNDO, PHONE, "Undo"),
    Action("note", "Note something", "Keep what the caller said besides.", _NOTE, PHONE),
    Action("end", "End the call", "Nobody will go: end the call, and say why.", _END, PHONE, "End"),
    _read_out(PHONE),
    Action(
        "told",
        "They have heard it",
        "Tick off what was read out.",
        (*_GO_ON, "enter"),
        TOLD,
        "They have heard it",
        means="go-on",
    ),
    _go_on(SIGNS, "No to the signs on this screen that are not ticked."),
    _step_back(SIGNS),
    _read_out(SIGNS),
    _meaning(SIGNS),
    _language(SIGNS),
    _go_on(WHERE, "To the complaint; what is empty stays open."),
    _step_back(WHERE),
    _go_on(READ_OUT, "Take the complaint that is highlighted."),
    _read_out(WHERE),
    _step_back(READ_OUT),
    _read_out(READ_OUT),
    _language(READ_OUT),
    # --- at the dispatch sheet
    Action(
        "hand_over",
        "Hand over",
        "Done: the technician goes on with this call.",
        (*_GO_ON, "enter"),
        SHEET,
        "Hand over",
        means="go-on",
    ),
    _language(SHEET),
    _save(SHEET, "sheet"),
    # --- in practice
    Action("read_on", "Read on", "Scroll down what happened so far.", ("pagedown",), PRACTICE, "Read on"),
    Action("read_back", "Read back", "Scroll it up.", ("pageup",), PRACTICE),
    # --- everywhere
    Action("back", "Back", "Go back to where you came from; nothing is lost.", ("escape",), hint="Back"),
    Action("help", "Help", "All keys, and how to read the screens.", ("f1", "question_mark"), hint="Help"),
    Action("calculator", "Calculator", "The trade's formulas with their working.", ("f7", "c"), hint="Calculator"),
    Action(
        "command_palette", "Find a command", "Type a few letters of what you want to do.", ("ctrl+p",), means="commands"
    ),
    Action("light", "Light or dark", "Black on white for the sun, white on black for the night.", ("f12",)),
    Action(
        "copy",
        "Copy",
        "What is marked, the line that is highlighted, or the text of the screen: to the clipboard.",
        ("ctrl+c",),
    ),
    Action(
        "quit",
        "Quit",
        "Everything said is kept; the call can be gone on with at the next start.",
        ("ctrl+q",),
        hint="Quit",
    ),
)

_SHOWN_KEYS = {
    "escape": "Esc",
    "question_mark": "?",
    "tab": "Tab",
    "shift+tab": "Shift+Tab",
    "pagedown": "PgDn",
    "pageup": "PgUp",
    "slash": "/",
    "space": "Space",
}
# Copying what is marked in a line comes before copying the screen.
_LEFT_TO_TEXT = ("ctrl+c",)


def actions_of(place: str) -> tuple[Action, ...]:
    return tuple(action for action in ACTIONS if action.place == place)


def bindings(place: str) -> list[BindingType]:
    """The keys of a place, as Textual wants them; those that work while something is typed go before its own."""
    made: list[BindingType] = []
    for action in actions_of(place):
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
        return f"Ctrl+{key[5:].upper()}"
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


def _in_footer(key: str) -> str:
    """Short, as there is little room: ``^Z`` for Ctrl+Z."""
    return key_name(key).replace("Ctrl+", "^")


def footer_hints(place: str, most: int = 7) -> list[tuple[str, str, str]]:
    """(key, word, action) for the footer: the place's own first, then the way back and help; ``most`` in all."""
    common = {action.name: action for action in actions_of(EVERYWHERE)}
    end = [common[name] for name in _FOOTER_ENDS.get(place, _FOOTER_END)]
    own = [action for action in actions_of(place) if action.hint] if place != EVERYWHERE else []
    return [(_in_footer(keys_of(action)[0]), action.hint, action.name) for action in [*own[: most - len(end)], *end]]
