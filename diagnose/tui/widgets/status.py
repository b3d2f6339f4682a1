"""Where the call stands: phase, state of the door, minutes still to be expected, and whether all is saved."""

from __future__ import annotations

from dataclasses import dataclass

from rich.cells import cell_len
from textual.content import Content
from textual.reactive import reactive
from textual.widget import Widget

from diagnose.knowledge.words import about
from diagnose.tui.text import assemble, fit

# Minutes from which hours are easier to think in.
_LONG = 90


@dataclass(frozen=True)
class Standing:
    """``left`` is minutes, ``None`` while they are worked out; ``unsaved`` counts what is in memory only."""

    phase: str = ""
    energy: str = ""
    left: float | None = None
    interval: tuple[float, float] = (0.0, 0.0)
    unsaved: int = 0
    safe: bool = True


class Status(Widget):
    """One line; where it is too narrow the interval goes first, and never the saved sign."""

    standing: reactive[Standing] = reactive(Standing())

    def render(self) -> Content:
        width = self.size.width
        saved, style = self._saved()
        words = next(
            (w for w in self._versions() if cell_len(w) + cell_len(saved) + 1 <= width), list(self._versions())[-1]
        )
        return assemble(fit(assemble(words), width - cell_len(saved) - 1), " ", (saved, style))

    def _versions(self) -> list[str]:
        """The words before the saved sign, the fullest first."""
        standing = self.standing
        if standing.left is None:
            left = short = "working out the time left"
        elif standing.left <= 0:
            left = short = ""
        else:
            short = f"{about(standing.left)} left"
            left = _with_interval(standing.left, *standing.interval) or short
        full = [standing.phase, standing.energy]
        return [
            " · ".join(filter(None, [*full, left])) + " ·",
            " · ".join(filter(None, [*full, short])) + " ·",
            " · ".join(filter(None, [standing.energy, short])) + " ·",
        ]

    def _saved(self) -> tuple[str, str]:
        if self.standing.safe:
            return "saved ✓", "$text-success"
        return f"NOT SAVED ({self.standing.unsaved})", "bold reverse"


def _with_interval(left: float, low: float, high: float) -> str:
    """``75 min left (60 to 160)``, in hours from an hour and a half on; nothing where the interval is a point."""
    if round(low) == round(high):
        return ""
    if left < _LONG:
        left, low, high = (5 * round(value / 5) if value >= 10 else value for value in (left, low, high))
        return f"{left:.0f} min left ({low:.0f} to {high:.0f})"
    least, most = (_in_hours(value) for value in (low, high))
    return f"{_in_hours(left)} left ({least.removesuffix(' h')} to {most})"


def _in_hours(minutes: float) -> str:
    """``2½ h``; ``45 min`` below the hour."""
    if minutes < 60:
        return f"{5 * round(minutes / 5)} min"
    hours, half = divmod(round(minutes / 30), 2)
    return f"{hours}{'½' * half} h"
