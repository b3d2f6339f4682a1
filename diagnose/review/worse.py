"""Whether a fault's sign weighs less the worse the reading is.

A bracket that is loose by an inch is no less a loose bracket than one that is loose by a third of one. A spread with
two sides says it is; beside a sound door's spread and the slips of whoever reads, the far reading then weighs nothing.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from dataclasses import dataclass

from diagnose.knowledge import distributions as dist
from diagnose.knowledge.model import Check, Trees
from diagnose.reasoning.situation import instrument_error, slip_of

# Into how many stretches the way from sound to the range's end is cut.
_STRETCHES = 60
# From this factor on a reading speaks for a fault; and a fall by less is a matter of how a curve is cut.
_SPEAKS, _FALLS = 2.0, 1.5


@dataclass(frozen=True)
class Fall:
    """A reading speaks for a fault by the factor ``most`` at ``best``, and by ``least`` at ``worse``, further out."""

    best: float
    most: float
    worse: float
    least: float


def fall(trees: Trees, check: Check, sign: dist.Distribution) -> Fall | None:
    """The deepest fall of P(reading | fault) / P(reading | sound) on the way outward; ``None`` where it does not."""
    falls = [found for side in sides(check) for found in _falls(list(_factors(trees, check, sign, side)))]
    return max(falls, key=lambda found: found.most / found.least, default=None)


def sides(check: Check) -> tuple[int, ...]:
    """Which way is worse: 1 for higher, -1 for lower."""
    return {"higher": (1,), "lower": (-1,), "both": (1, -1)}.get(check.worse, ())


def _falls(factors: list[tuple[float, float]]) -> Iterator[Fall]:
    best, most = math.nan, _SPEAKS
    for reading, factor in factors:
        if factor >= most:
            best, most = reading, factor
        elif most > _SPEAKS and factor < most / _FALLS:
            yield Fall(best, most, reading, factor)


def _factors(trees: Trees, check: Check, sign: dist.Distribution, side: int) -> Iterator[tuple[float, float]]:
    """(reading, factor) outward from the middle of what a sound door mostly shows; last an overload."""
    assert check.healthy is not None and check.plausible is not None
    low, high = check.plausible
    scale = dist.scale_of(check.healthy, check.plausible)
    middle, end = dist.centre(dist.mostly(check.healthy)), _worst(sign, side, high if side > 0 else low)
    if not math.isfinite(middle):
        # Sound is an open circuit: from the other end of the range.
        middle = high
    if middle == end:
        return
    slip, plausible, sound = slip_of(trees, check), check.plausible, dist.mostly(check.healthy)

    def factor(bottom: float, top: float) -> float:
        error = instrument_error(check, bottom if math.isfinite(bottom) else top)
        chance = slip * dist.misread(sound, plausible, bottom, top)
        fault, without = (dist.probability(state, bottom, top, error) for state in (sign, sound))
        return ((1 - slip) * fault + chance) / ((1 - slip) * without + chance)

    start, stop = scale.place(middle), scale.place(end)
    cuts = [scale.reading(start + (stop - start) * number / _STRETCHES) for number in range(_STRETCHES + 1)]
    # The last stretch is left out: an instrument's error carries some of it over the end.
    for one, other in itertools.pairwise(cuts[:-1]):
        yield (one + other) / 2, factor(min(one, other), max(one, other))
    # Only of a resistance is it read that it is more than the range holds.
    if end == high and check.unit.endswith("ohm"):
        yield math.inf, factor(high, math.inf)


def _worst(sign: dist.Distribution, side: int, end: float) -> float:
    """Where a sign says that it can be no worse; else the range's end."""
    parts = [part for _, part in sign.parts] if isinstance(sign, dist.Mixture) else [sign]
    said = [part.end for part in parts if isinstance(part, dist.Outward) and side * (part.end - part.full) > 0]
    return side * max(side * each for each in said) if said else end
