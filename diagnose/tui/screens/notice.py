"""Said once at the start of every call: what comes before this program's advice."""

from __future__ import annotations

from diagnose.tui.screens.choosing import ChoicePage, lettered
from diagnose.tui.widgets.paragraphs import BLANK, paragraph

FIRST = "Local codes, the maker's instructions and licensed practice come first. This program only advises."
REST = (
    "Read the cautions of each step before you do it. Springs, cables, drums and bottom brackets are a trained "
    "door technician's work. Nobody defeats or bypasses a protection device, not even to test: a door whose device is "
    "faulty stays out of service. The door returns to service only when every proof has passed."
)


class Notice(ChoicePage):
    """Dismissed with something once it is acknowledged."""

    def __init__(self) -> None:
        words = (paragraph((FIRST, "bold")), BLANK, paragraph(REST))
        super().__init__("New call › Before you begin", words, lettered([("understood", "Understood")]))
