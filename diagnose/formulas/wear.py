"""Where a line through readings gets to: what wears or fades, and when it reaches its limit.

A straight line by least squares through readings over time, its band, and the time at which it meets a limit, with an
interval. Times and readings are in whatever units they are given in.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from typing import NamedTuple

from .limits import Line, better_as_a_step, fit_line

CONFIDENCE = 0.9
"""How often an interval is to hold."""

FEWEST = 5
"""Readings that a line takes here: with fewer a jump can hardly be told from it, for it wants two on each side."""


class Fitted(NamedTuple):
    """A line through readings, with what its band takes."""

    line: Line
    readings: int
    middle: float
    spread: float

    def at(self, time: float) -> float:
        return self.line.intercept + self.line.slope * time

    def band(self, time: float, confidence: float = CONFIDENCE) -> float:
        """Half the width of the line's own interval at a time: t·s·√(1/n + (x-x̄)²/Sxx)."""
        return (
            student(confidence, self.readings - 2)
            * self.line.residual_sd
            * math.sqrt(1 / self.readings + (time - self.middle) ** 2 / self.spread)
        )


class Reached(NamedTuple):
    """When a line meets a limit: between ``soonest`` and ``latest``, which is infinite where nothing bounds it."""

    soonest: float
    likeliest: float
    latest: float


def student(confidence: float, freedom: int) -> float:
    """Student's t that holds so often, both sides taken together."""
    from scipy.special import stdtrit

    return float(stdtrit(freedom, (1 + confidence) / 2))


def fitted(times: Sequence[float], readings: Sequence[float], least_sd: float = 0.0) -> Fitted | None:
    """The line through readings; ``None`` for fewer than five moments.

    ``least_sd`` is how much readings differ by their instruments alone. Their scatter is not taken for less: that a few
    lie nearer to a line is luck.
    """
    if len(set(times)) < FEWEST:
        return None
    middle = statistics.fmean(times)
    line = fit_line(times, readings, least_sse=(len(times) - 2) * least_sd**2)
    return Fitted(line, len(times), middle, math.fsum((time - middle) ** 2 for time in times))


def is_jump(times: Sequence[float], readings: Sequence[float], least_sd: float = 0.0) -> bool:
    """Whether one jump explains readings in order better than a line does: something happened, and nothing wears."""
    return better_as_a_step(times, readings, (len(times) - 2) * least_sd**2)


def reached(fit: Fitted, limit: float, confidence: float = CONFIDENCE) -> Reached | None:
    """When the line meets a limit: the times at which its band holds the limit (Fieller, 1954).

    With d the time from the middle of the readings, those are the d with (ȳ - limit + slope·d)² ≤ t²s²(1/n + d²/Sxx).
    Two roots bound them where the slope is clear of nothing; elsewhere they go on without end, or hold every time, and
    then ``None`` says that nothing can be told.
    """
    line, slope = fit.line, fit.line.slope
    if not slope:
        return None
    width = (student(confidence, fit.readings - 2) * line.residual_sd) ** 2
    off = fit.at(fit.middle) - limit
    square, middle, rest = slope**2 - width / fit.spread, slope * off, off**2 - width / fit.readings
    inside = middle**2 - square * rest
    likeliest = fit.middle - off / slope
    if square > 0:
        root = math.sqrt(max(inside, 0.0))
        return Reached(fit.middle + (-middle - root) / square, likeliest, fit.middle + (-middle + root) / square)
    if inside <= 0 or rest <= 0:
        return None
    # What is left out lies between two roots about the middle: the limit may be met after it, and before it as well.
    root = math.sqrt(inside)
    later = fit.middle + max((-middle - root) / square, (-middle + root) / square) if square else likeliest
    return Reached(later, likeliest, math.inf) if likeliest > fit.middle else None
