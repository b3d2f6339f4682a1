"""The call in hand: the call, and how it is saved."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from diagnose.tui.saver import Saver

if TYPE_CHECKING:
    from diagnose.calls.call import Call


@dataclass
class InHand:
    """A call that is worked on, and the recorder of its events."""

    call: Call
    saver: Saver

    def twin(self) -> Call:
        """A copy that nothing else touches, and that records nothing."""
        from diagnose.calls.call import Call

        return Call(self.call.trees, history=self.call.events, by=self.call.by)
