"""Every action of the screens, written once: keys, footer, help and command palette are all made from this list.

A screen has a *place*, and the actions of a place are methods ``action_NAME`` of the screen (of the app for
``everywhere``). A key has one meaning on every screen, and a meaning the same keys. The first key of an action works
while something is typed too; a letter does only when not.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Action:
    """``name`` is the method without ``action_``; ``hint`` the footer's word, empty where the footer omits it.

    ``means`` is what its keys mean on every screen, where the method has another name; people choose other keys by it.
    """

    name: str
    title: str
    explain: str
    keys: tuple[str, ...]
    hint: str = ""
    means: str = ""

    @property
    def meaning(self) -> str:
        return self.means or self.name


class Place:
    """Where keys do what its ``actions`` say; ``title`` is what the help calls it."""

    def __init__(self, title: str, *actions: Action) -> None:
        self.title, self.actions = title, actions


# What is meant on several screens has the same keys on each.
_EXPLAIN = ("f2", "w")
_GO_ON = ("f5",)
_UNDO = ("ctrl+z", "u")
_NOTE = ("f9", "n")
_END = ("f8", "x")
_DOOR = ("ctrl+o", "o")
_HISTORY = ("ctrl+r", "h")
_NEXT, _BEFORE = ("tab",), ("shift+tab",)


_MEANING = Action(
    "meaning", "What do you mean?", "The same in other words, to be read out.", _EXPLAIN, "Mean?", "explain"
)
_LANGUAGE = Action(
    "language", "Another language", "Read out in the next language the trees have.", ("ctrl+l", "l"), "Language"
)
_READ_AGAIN = Action(
    "read_out",
    "Read out again",
    "What the caller has to know about each danger, in full, and whether they have heard it.",
    ("ctrl+x",),
    means="again",
)
_STEP_BACK = Action("undo", "One back", "Undo the last thing said, or go back to what was asked before.", _UNDO, "Undo")


def _open(screen: str, title: str, key: str, hint: str, means: str) -> Action:
    """``screen`` is ``module:Class`` among the screens: a page that is made without arguments."""
    return Action(f"open_screen('{screen}')", title, "", (key,), hint, means)


def _save(what: str) -> Action:
    told = f"Write the {what} into a file: its ending says in which form."
    return Action("save_as", "Save to a file", told, ("ctrl+s",), "Save", "save")


def _go_on(told: str, name: str = "go_on", short: str = "Go on") -> Action:
    return Action(name, short, told, _GO_ON, short, "go-on")


# What is wanted most comes first, the footer keeps what fits. The usual keys of a meaning are those of the first
# place that has it.
EVERYWHERE = Place(
    "Everywhere",
    Action("back", "Back", "Go back to where you came from; nothing is lost.", ("escape",), "Back"),
    Action("help", "Help", "All keys, and how to read the screens.", ("f1", "question_mark"), "Help"),
    Action(
        "where",
        "Where is this?",
        "What the step is about on a sketch of such a door; from there, everything on a door by its names.",
        ("ctrl+backslash", "v"),
    ),
    Action("calculator", "Calculator", "The trade's formulas with their working.", ("f7", "c"), "Calculator"),
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
        "quit", "Quit", "Everything said is kept; the call can be gone on with at the next start.", ("ctrl+q",), "Quit"
    ),
)
CALL = Place(
    "During a call",
    Action(
        "why",
        "Why this next?",
        "Why it is asked, what each finding would mean, and what would change the lead.",
        _EXPLAIN,
        "Why",
        "explain",
    ),
    Action(
        "trail",
        "Answers given",
        "Change an answer, repeat a reading, or withdraw an answer.",
        ("f4", "t"),
        "Answers",
        "answers",
    ),
    Action(
        "known", "I already know something", "Find any check and answer it at once.", ("ctrl+k", "k"), "I know", "know"
    ),
    Action("repair", "Go to a repair", "Choose a repair of any cause yourself.", ("f6", "r"), "Repair"),
    Action("undo", "Undo", "Undo the last thing said.", _UNDO, "Undo"),
    Action(
        "evidence",
        "Evidence for and against",
        "What speaks for and against each cause, answer by answer.",
        ("ctrl+e", "e"),
    ),
    Action("later", "Later", "Put this step off until there is nothing better to do.", ("ctrl+y", "y")),
    Action("another_way", "Another way", "Put this step off and choose another.", ("ctrl+n", "a"), means="instead"),
    Action(
        "map", "Map of the way so far", "Complaint, answers, what they opened, and where it points.", ("ctrl+w", "m")
    ),
    Action(
        "chain", "The chain of functions", "What works, what is lost, and where the fault lies.", ("f11", "f"), "Chain"
    ),
    Action(
        "look_again",
        "See for yourself what was told",
        "Ask again what the caller told and somebody who can see should look at, the most important first.",
        ("ctrl+x", "s"),
        means="again",
    ),
    Action("proofs", "Proofs", "What must pass before the door returns, and go to one.", ("ctrl+g", "g")),
    Action("energy", "State of the door", "Say which state the door is in.", ("ctrl+b", "b"), means="state"),
    Action("history", "Every entry", "All that was said and done in this call, in order.", _HISTORY),
    Action("note", "Note something", "Keep a sentence that no check asks for.", _NOTE),
    Action("report", "Report", "Read the record of this call, and save it.", ("f10", "p")),
    Action("door", "The door, the complaint, who is here", "See and correct what was said at the beginning.", _DOOR),
    Action(
        "leave",
        "Leave the door out of service",
        "End the call with the door out of service, and say why.",
        _END,
        means="end",
    ),
    Action(
        "save_now",
        "Save what is not saved yet",
        "Try again to put on the disk what is only in memory.",
        ("ctrl+s",),
        means="save",
    ),
)
CARD = Place(
    "At a step's text",
    Action(
        "read_on", "Read on", "Down in the step's text; what can be said comes after its end.", ("pagedown", "space")
    ),
    Action("read_back", "Read back", "Up in the step's text; from its beginning, the cautions in full.", ("pageup",)),
)
TRAIL = Place(
    "Among the answers given",
    Action(
        "again", "Measure again", "Take the reading once more; the two are averaged.", ("ctrl+x", "s"), "Measure again"
    ),
    Action("withdraw", "Withdraw the answer", "As if it had not been given.", _UNDO, "Withdraw", "undo"),
)
START = Place(
    "At the start",
    _open("phone:PhoneScreen", "Take a phone call", "f3", "Phone call", "phone"),
    _open("practice:PracticeScreen", "Practise", "ctrl+t", "Practise", "practise"),
    _open("settings:SettingsPage", "Settings", "ctrl+u", "Settings", "settings"),
    _open("doors:Doors", "Doors", "ctrl+o", "Doors", "door"),
    Action("calls", "All calls", "Every call kept here, closed ones too.", _HISTORY, "Calls", "history"),
    Action("end", "End a call left open", "Nobody goes on with it: end it, and say why.", _END),
)
DOOR = Place(
    "About the door",
    Action("next_row", "Next line", "Go on without changing this one.", _NEXT, "Next", "next"),
    Action("previous_row", "Line before", "Go back to the line above.", _BEFORE, "Before", "before"),
    _go_on("Done with the form; whatever is not answered here stays not known.", "begin"),
)
COMPLAINTS = Place("Among the complaints of a door", _go_on("Keep what is ticked.", "keep_ticked"))
CALLS = Place(
    "In the list of calls",
    Action("next_state", "Calls of the next state", "All, open, waiting, closed.", _NEXT, "Which", "next"),
    Action("state_before", "Calls of the state before", "The other way round.", _BEFORE, means="before"),
    Action("end", "End a call left open", "Nobody goes on with it: end it, and say why.", _END, "End one"),
    Action("order", "Another order", "The latest first, or by site, state or complaint.", ("ctrl+a",), "Order"),
    _go_on("To what all closed calls come to.", short="The shop"),
)
READING = Place(
    "In a text to be read",
    Action("find", "Find in the text", "Go to the next line that has a word.", ("slash", "ctrl+f"), "Find"),
)
CALCULATOR = Place(
    "In the calculator",
    Action("keep", "Note the result", "Write the working into the call.", _NOTE, "Note result", "note"),
)
REPORT = Place("In the record", _save("report"))
PHONE = Place(
    "On the phone",
    _MEANING,
    Action("sheet", "Dispatch sheet", "Ask no more, and draw up the sheet.", _GO_ON, "Sheet", "go-on"),
    _LANGUAGE,
    Action("danger", "Danger", "Go through the signs of danger again.", ("ctrl+d", "d"), "Danger"),
    Action("undo", "Undo", "Undo the last thing the caller said.", _UNDO, "Undo"),
    Action("note", "Note something", "Keep what the caller said besides.", _NOTE),
    Action("end", "End the call", "Nobody will go: end the call, and say why.", _END, "End"),
    _READ_AGAIN,
)
SIGNS = Place(
    "At the signs of danger, on the phone",
    _go_on("No to the signs on this screen that are not ticked."),
    _STEP_BACK,
    _READ_AGAIN,
    _MEANING,
    _LANGUAGE,
)
TOLD = Place(
    "At what is read out about a danger",
    Action(
        "told", "They have heard it", "Tick off what was read out.", (*_GO_ON, "enter"), "They have heard it", "go-on"
    ),
)
WHERE = Place(
    "At the place of the door, on the phone",
    _go_on("To the complaint; what is empty stays open."),
    _STEP_BACK,
    _READ_AGAIN,
)
READ_OUT = Place(
    "At the complaint, on the phone",
    _go_on("Take the complaint that is highlighted."),
    _STEP_BACK,
    _READ_AGAIN,
    _LANGUAGE,
)
SHEET = Place(
    "At the dispatch sheet",
    Action(
        "hand_over", "Pass on", "Done: the technician goes on with this call.", (*_GO_ON, "enter"), "Pass on", "go-on"
    ),
    _LANGUAGE,
    _save("sheet"),
)
PRACTICE = Place(
    "In practice",
    Action("read_on", "Read on", "Scroll down what happened so far.", ("pagedown",), "Read on"),
    Action("read_back", "Read back", "Scroll it up.", ("pageup",)),
)
SHOP = Place(
    "In the shop's figures",
    _save("figures"),
    _go_on("To what the closed calls propose to change in the trees.", short="Learn"),
)
DOORS = Place(
    "Among the doors that are kept",
    Action("add", "Add a door", "Keep a door before its first call: where it is, and its facts.", ("insert",), "Add"),
)

PLACES = tuple(each for each in tuple(vars().values()) if isinstance(each, Place))
ACTIONS = tuple(action for place in PLACES for action in place.actions)
