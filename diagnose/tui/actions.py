"""Every action of the screens, written once: keys, footer, help and command palette are all made from this list.

A screen has a *place*, and the actions of a place are methods ``action_NAME`` of the screen (of the app for
``everywhere``). The first key of an action works while something is typed too; a letter does only when not.
"""

from __future__ import annotations

from dataclasses import dataclass

from textual.binding import Binding, BindingType

from diagnose.tui.extras import EXTRAS

EVERYWHERE = "everywhere"
START = "start"
DOOR = "door"
CALL = "call"
CARD = "card"
TRAIL = "answers"
CALCULATOR = "calculator"
CALLS = "calls"
READING = "reading"
REPORT = "report"
PHONE = "phone"
SIGNS = "signs"
WHERE = "where"
READ_OUT = "read out"
SHEET = "sheet"

PLACE_TITLES = {
    EVERYWHERE: "Everywhere",
    START: "At the start",
    DOOR: "About the door",
    CALL: "During a call",
    CARD: "At a step's text",
    TRAIL: "Among the answers given",
    CALLS: "In the list of calls",
    READING: "In a text to be read",
    CALCULATOR: "In the calculator",
    REPORT: "In the report",
    PHONE: "On the phone",
    SIGNS: "At the signs of danger, on the phone",
    WHERE: "At the place of the door, on the phone",
    READ_OUT: "At the complaint, on the phone",
    SHEET: "At the dispatch sheet",
}


@dataclass(frozen=True)
class Action:
    """``name`` is the method without ``action_``; ``hint`` the footer's word, empty where the footer omits it."""

    name: str
    title: str
    explain: str
    keys: tuple[str, ...]
    place: str = EVERYWHERE
    hint: str = ""


def _meaning(place: str) -> Action:
    return Action(
        "meaning", "What do you mean?", "The same in other words, to be read out.", ("f2", "m"), place, "Mean?"
    )


def _language(place: str) -> Action:
    told = "Read out in the next language the trees have."
    return Action("language", "Another language", told, ("f3", "l"), place, "Language")


def _step_back(place: str) -> Action:
    told = "Take the last thing back, or go back to what was asked before."
    return Action("undo", "One back", told, ("ctrl+z",), place, "Undo")


ACTIONS: tuple[Action, ...] = (
    # --- during a call: what is wanted most comes first, the footer keeps what fits
    Action(
        "why",
        "Why this next?",
        "Why it is asked, what each finding would mean, and what would change the lead.",
        ("f2", "w"),
        CALL,
        "Why",
    ),
    Action(
        "trail", "Answers given", "Change an answer, repeat a reading, or take one back.", ("f4", "t"), CALL, "Answers"
    ),
    Action("known", "I already know something", "Find any check and answer it at once.", ("f5", "k"), CALL, "I know"),
    Action("repair", "Go to a repair", "Choose a repair of any cause yourself.", ("f6", "r"), CALL, "Repair"),
    Action("undo", "Undo", "Take back the last thing said.", ("ctrl+z", "u"), CALL, "Undo"),
    Action(
        "evidence",
        "Evidence for and against",
        "What speaks for and against each cause, answer by answer.",
        ("f3", "e"),
        CALL,
    ),
    Action("later", "Later", "Put this step off until there is nothing better to do.", ("ctrl+y", "y"), CALL),
    Action("another_way", "Another way", "Put this step off and choose another.", ("ctrl+n", "a"), CALL),
    Action(
        "map", "Map of the way so far", "Complaint, answers, what they opened, and where it points.", ("f8", "m"), CALL
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
        ("ctrl+t", "s"),
        CALL,
    ),
    Action("proofs", "Proofs", "What must pass before the door returns, and go to one.", ("ctrl+g", "g"), CALL),
    Action("energy", "State of the door", "Say which state the door is in.", ("ctrl+b", "b"), CALL),
    Action("history", "Every entry", "All that was said and done in this call, in order.", ("ctrl+r", "h"), CALL),
    Action("note", "Note something", "Keep a sentence that no check asks for.", ("f9", "n"), CALL),
    Action("report", "Report", "Read the record of this call, and save it.", ("f10", "p"), CALL),
    Action(
        "door",
        "The door, the complaint, who is here",
        "See and correct what was said at the beginning.",
        ("ctrl+o", "d"),
        CALL,
    ),
    Action(
        "leave",
        "Leave the door out of service",
        "End the call with the door out of service, and say why.",
        ("ctrl+l", "l"),
        CALL,
    ),
    Action(
        "save_now",
        "Save what is not saved yet",
        "Try again to put on the disk what is only in memory.",
        ("ctrl+s",),
        CALL,
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
        "again", "Measure again", "Take the reading once more; the two are averaged.", ("a",), TRAIL, "Measure again"
    ),
    Action("withdraw", "Take the answer back", "As if it had not been given.", ("x",), TRAIL, "Take back"),
    # --- at the start
    Action("calls", "All calls", "Every call kept here, closed ones too.", ("f4",), START, "All calls"),
    Action("end", "End a call left open", "Nobody goes on with it: end it, and say why.", ("f8",), START),
    *(Action(f"extra('{extra.key}')", extra.title, "", (extra.key,), START, extra.hint) for extra in EXTRAS),
    # --- about the door
    Action("next_row", "Next line", "Go on without changing this one.", ("tab",), DOOR, "Next"),
    Action("previous_row", "Line before", "Go back to the line above.", ("shift+tab",), DOOR, "Before"),
    Action(
        "begin", "Go on", "To the questions; whatever is not answered here stays not known.", ("f5",), DOOR, "Go on"
    ),
    # --- in the calculator
    # --- in the list of calls
    Action("show_state", "Which calls", "All, or those that are open, waiting or closed.", ("ctrl+r",), CALLS, "Which"),
    Action("order", "Another order", "The latest first, or by site, state or complaint.", ("ctrl+g",), CALLS, "Order"),
    # --- in a text to be read
    Action("find", "Find in the text", "Go to the next line that has a word.", ("slash", "ctrl+f"), READING, "Find"),
    Action("keep", "Note the result", "Write the working into the call.", ("f9",), CALCULATOR, "Note result"),
    # --- in the report
    Action(
        "save_text",
        "Save as text",
        "Write the record into a plain text file, which any editor reads.",
        ("t", "m"),
        REPORT,
        "As text",
    ),
    Action(
        "save_page",
        "Save as a web page",
        "Write the record into an HTML file, which any browser shows and prints.",
        ("h",),
        REPORT,
        "As a web page",
    ),
    Action("save_pdf", "Save as PDF", "Write the record into a PDF file, to print and sign.", ("p",), REPORT, "As PDF"),
    # --- on the phone
    _meaning(PHONE),
    _language(PHONE),
    Action("danger", "Danger", "Go through the signs of danger again.", ("f4", "d"), PHONE, "Danger"),
    Action("sheet", "Dispatch sheet", "Ask no more, and draw up the sheet.", ("f5", "s"), PHONE, "Sheet"),
    Action("undo", "Undo", "Take back the last thing the caller said.", ("ctrl+z", "u"), PHONE, "Undo"),
    Action("note", "Note something", "Keep what the caller said besides.", ("f9", "n"), PHONE),
    Action("end", "End the call", "Nobody will go: end the call, and say why.", ("f8",), PHONE, "End"),
    Action("go_on", "Go on", "No to the signs on this screen that are not ticked.", ("f5",), SIGNS, "Go on"),
    _step_back(SIGNS),
    _meaning(SIGNS),
    _language(SIGNS),
    Action("go_on", "Go on", "To the complaint; what is empty stays open.", ("f5",), WHERE, "Go on"),
    _step_back(WHERE),
    Action("go_on", "Go on", "Take the complaint that is highlighted.", ("f5",), READ_OUT, "Go on"),
    _step_back(READ_OUT),
    _language(READ_OUT),
    # --- at the dispatch sheet
    Action(
        "hand_over", "Hand over", "Done: the technician goes on with this call.", ("f5", "enter"), SHEET, "Hand over"
    ),
    _language(SHEET),
    Action(
        "save_page",
        "Save for printing",
        "Write the sheet into an HTML file of one page.",
        ("h",),
        SHEET,
        "For printing",
    ),
    Action("save_text", "Save as text", "Write the sheet into a Markdown file.", ("m",), SHEET, "As text"),
    # --- everywhere
    Action("back", "Back", "Go back to where you came from; nothing is lost.", ("escape",), hint="Back"),
    Action("help", "Help", "All keys, and how to read the screens.", ("f1", "question_mark"), hint="Help"),
    Action("calculator", "Calculator", "The trade's formulas with their working.", ("f7", "c"), hint="Calculator"),
    Action("command_palette", "Find a command", "Type a few letters of what you want to do.", ("ctrl+p",)),
    Action("light", "Light or dark", "Black on white for the sun, white on black for the night.", ("f12",)),
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


def actions_of(place: str) -> tuple[Action, ...]:
    return tuple(action for action in ACTIONS if action.place == place)


def bindings(place: str) -> list[BindingType]:
    """The keys of a place, as Textual wants them."""
    return [Binding(",".join(action.keys), action.name, action.title, show=False) for action in actions_of(place)]


def key_name(key: str) -> str:
    """A key as it is printed on a keyboard: ``F2``, ``Ctrl+Z``, ``W``, ``Esc``."""
    if key in _SHOWN_KEYS:
        return _SHOWN_KEYS[key]
    if key.startswith("ctrl+"):
        return f"Ctrl+{key[5:].upper()}"
    return key.upper() if key[1:].isdigit() else key


# What ends the footer: the way back, and help. The start has nothing behind it.
_FOOTER_ENDS = {START: ("calculator", "quit", "help")}
_FOOTER_END = ("back", "help")


def footer_hints(place: str, most: int = 7) -> list[tuple[str, str, str]]:
    """(key, word, action) for the footer: the place's own first, then the way back and help; ``most`` in all."""
    common = {action.name: action for action in actions_of(EVERYWHERE)}
    end = [common[name] for name in _FOOTER_ENDS.get(place, _FOOTER_END)]
    own = [action for action in actions_of(place) if action.hint] if place != EVERYWHERE else []
    return [(key_name(action.keys[0]), action.hint, action.name) for action in [*own[: most - len(end)], *end]]
