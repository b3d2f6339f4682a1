"""What to read out at once, with its signal word in a block of its own."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from textual.content import Content
from textual.widgets import Static

from diagnose.screening.danger import Raised
from diagnose.screening.spoken import Spoken
from diagnose.tui.keys import key_for
from diagnose.tui.text import fit, plain, stack
from diagnose.tui.widgets.cautions import signalled

# Of the screen's height the read-outs take one line in so many, and so many lines at least.
_SHARE, _LEAST = 4, 3


class ReadOuts(Static):
    """What the caller has to know now: above all else on every page of a phone call, as long as the danger stands."""

    def __init__(self) -> None:
        super().__init__(id="alarm", markup=False)
        self.display = False
        # How many lines it takes.
        self.lines = 0

    def show(self, spoken: Spoken, raised: Sequence[Raised], told: Collection[str]) -> None:
        """The most urgent first; in full where there is room, and else a line each."""
        blocks = []
        for each in raised:
            tick = "✓ told:" if each.danger.id in told else "NOT TOLD YET:"
            blocks.append(signalled(each.danger.word, spoken.instruction(each.danger), tick=tick))
        width = max(self.app.size.width - 2, 10)
        lines = _in_rows(blocks, width, max(self.app.size.height // _SHARE, _LEAST))
        self.display, self.lines = bool(lines), len(lines)
        self.update(stack(lines))


def _in_rows(blocks: Sequence[Content], width: int, rows: int) -> list[Content]:
    """All of the blocks where there is room; else the first in full, as far as each of the others keeps a line."""
    wrapped = [block.wrap(width) for block in blocks]
    if sum(map(len, wrapped)) <= rows:
        return [line for whole in wrapped for line in whole]
    # The last line says that something is cut.
    room, lines = rows - 1, list[Content]()
    for after, (block, whole) in zip(range(len(blocks) - 1, -1, -1), zip(blocks, wrapped, strict=True), strict=True):
        lines += whole if len(lines) + len(whole) + after <= room else [fit(block, width)]
    more = len(lines) - room
    hidden = f"; {more} more" if more > 0 else ""
    return [*lines[:room], plain(f"{key_for('again')} reads it out in full{hidden}.", "$text-muted")]
