"""Amounts in words, the same on every face."""

from __future__ import annotations


def minutes(value: float) -> str:
    """``4 min``, ``2 h 10 min``; less than half a minute is still something."""
    whole = max(1, round(value))
    hours, rest = divmod(whole, 60)
    if not hours:
        return f"{rest} min"
    return f"{hours} h {rest} min" if rest else f"{hours} h"


def percent(share: float) -> str:
    """A probability as a whole percentage; what is not nought is never shown as nought, nor as certain."""
    if 0 < share < 0.005:
        return "<1 %"
    if 0.995 <= share < 1:
        return ">99 %"
    return f"{100 * share:.0f} %"


def extra(more: float) -> str:
    """What another way costs beside the best, in minutes' worth."""
    return "as good" if more < 0.5 else f"{minutes(more)} more on average"
