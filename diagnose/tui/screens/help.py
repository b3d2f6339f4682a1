"""All keys, place by place, and how to read the screens; made from the registry of actions."""

from __future__ import annotations

from diagnose.tui import actions
from diagnose.tui.keys import key_name, keys_of
from diagnose.tui.screens.page import ReadingPage
from diagnose.tui.widgets.paragraphs import BLANK, Paragraph, heading, paragraph

_HOW = (
    "^Z in the bottom line is Ctrl+Z. A key means the same on every screen; others are chosen in the settings.",
    "A number answers at once; 0 is “could not tell”. Arrows and Enter do the same.",
    "A reading is typed with or without its unit (24, 24 V, 3 1/8 in, OL) and taken by Enter; ? is “could not tell”.",
    "A number that seems wrong is asked about; Enter a second time keeps it.",
    "While something is typed, letters go into the text: use the first key named, or Esc.",
    "▲+12 and ▼-5 say by how many points the last answer moved a cause; = says not at all.",
    "▲▲▲ DANGER will, ▲▲ WARNING could cause death or serious injury; ▲ CAUTION could cause a lesser one.",
    "“saved ✓” says that everything said so far is on the disk.",
)
_PRACTICE = (
    "The door is broken on purpose, and answers as such a door would. Nothing you do here is a real call.",
    "Look, repair and prove by number; then type any word of it, such as lubri, and Enter takes the first.",
    "Time is counted as at a door: each line says what its minutes went on. Fetching a ladder is counted once.",
    "The state of the door is yours to change (5), before the step that needs it. A caution passed over costs points.",
    "Try the door (3) after a repair; prove (4) what must pass; close the call (9) as returned or left out of service.",
    "A door left out of service owes no proofs. Say why, as on a real call.",
    "Hints cost points. Points: safety 30, result 20, order 25, thrift 15, instruments 10.",
    "The debriefing shows your way beside the best one, and at most three things to do better.",
    "Esc leaves the practice where it is; the next start offers to go on.",
)


class Help(ReadingPage):
    """The place one came from stands first."""

    def __init__(self, place: actions.Place) -> None:
        super().__init__("Help", help_text(place))


def help_text(place: actions.Place = actions.EVERYWHERE) -> list[Paragraph]:
    lines = []
    for each in dict.fromkeys([place, *actions.PLACES]):
        lines.append(heading(each.title))
        for action in each.actions:
            keys = " or ".join(key_name(key) for key in keys_of(action))
            lines.append(
                paragraph(
                    (f"  {keys:<14} ", "bold"), action.title, (f"  {action.explain}", "$text-muted"), later=" " * 17
                )
            )
        lines.append(BLANK)
    sections = [("How to read the screens", _HOW), ("How practice works", _PRACTICE)]
    for name, sentences in sections if place is not actions.PRACTICE else reversed(sections):
        lines += [heading(name), *(paragraph(f"  {sentence}", later="  ") for sentence in sentences), BLANK]
    return lines
