"""Every action of the screens, written once: keys, footer, help and command palette are all made from this list.

A screen has a *place*, and the actions of a place are methods ``action_NAME`` of the screen (of the app for
``everywhere``). A key has one meaning on every screen, and a meaning the same keys. The first key of an action works
while something is typed too; a letter does only when not.
"""

from __future__ import annotations

from dataclasses import dataclass

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


def _go_on(place: str, told: str, name: str = "go_on", short: str = "Go on") -> Action:
    return Action(name, short, told, _GO_ON, place, short, means="go-on")


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
    _go_on(CALLS, "To what all closed calls come to.", short="The shop"),
    # --- in a text to be read
    Action("find", "Find in the text", "Go to the next line that has a word.", ("slash", "ctrl+f"), READING, "Find"),
    Action(
        "keep", "Note the result", "Write the working into the call.", _NOTE, CALCULATOR, "Note result", means="note"
    ),
    # --- in the report
    _save(REPORT, "report"),
    # --- in the shop's figures
    _save(SHOP, "figures"),
    _go_on(SHOP, "To what the closed calls propose to change in the trees.", short="Learn"),
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
    Action(
        "where",
        "Where is this?",
        "What the step is about on a sketch of such a door; from there, everything on a door by its names.",
        ("ctrl+backslash", "v"),
    ),
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


def actions_of(place: str) -> tuple[Action, ...]:
    return tuple(action for action in ACTIONS if action.place == place)
