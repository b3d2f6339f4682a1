"""What is known of all doors, made what is known of this one: by what was read on it when it was right.

Sound doors differ from one another more than one door differs from itself. Where a reading of this door is kept from a
day it was right, a sound spread is this door's own: about what was read then, as wide as one door varies and as that
instrument may have erred. A cause without a sign on the check leaves it there, and so a change that is larger than both
instruments' errors is evidence of its own. Today's error is added where a reading is scored.
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Mapping

from msgspec.structs import replace

from diagnose.knowledge.distributions import (
    Distribution,
    LogNormal,
    Mixture,
    Normal,
    Outward,
    Shares,
    Spread,
    Uniform,
    extent,
    mostly,
    scale_of,
)
from diagnose.knowledge.model import Check, Trees

# A reading then, in its check's unit, and its standard uncertainty.
Then = Mapping[str, tuple[float, float]]
# What lies further out than this, in widths of the sound spread, is no measure of a door that was right.
_SOUND_WITHIN = 2.5


def own_door(trees: Trees, then: Then) -> Trees:
    """The trees of a door of which ``then`` was read when it was right; ``trees`` themselves where that says nothing.

    A door that read so far off a sound spread that it was hardly right gives no level of its own.
    """
    own = {name: spread for name, read in then.items() if (spread := _own(trees, name, *read)) is not None}
    if not own:
        return trees
    checks, causes = dict(trees.checks), dict(trees.causes)
    for name, spread in own.items():
        checks[name] = replace(
            checks[name], healthy=_put(trees, trees.checks[name].healthy, trees.checks[name], spread)
        )
    for cause in trees.causes.values():
        told = {name: sign for name, sign in cause.signs.items() if name in own}
        if told:
            changed = {name: _put(trees, sign, trees.checks[name], own[name]) for name, sign in told.items()}
            causes[cause.id] = replace(cause, signs={**cause.signs, **changed})
    marked = hashlib.sha256(repr(sorted(own.items())).encode()).hexdigest()[:16]
    return replace(trees, checks=checks, causes=causes, digest=f"{trees.digest}+{marked}")


def within_door(trees: Trees, check: Check) -> float:
    """How much a sound door varies at a check, as a share of how much sound doors differ; at 1 it has no level."""
    return trees.costs.within_door if check.within_door is None else check.within_door


def _own(trees: Trees, name: str, value: float, error: float) -> Spread | None:
    """How a check reads on this door while it is sound; ``None`` where what was read then does not say."""
    check = trees.checks.get(name)
    if check is None or check.healthy is None or check.kind == "computed" or not math.isfinite(value):
        return None
    sound, within = mostly(check.healthy), within_door(trees, check)
    bottom, top = extent(sound, _SOUND_WITHIN)
    if within >= 1 or not bottom - 2 * error <= value <= top + 2 * error:
        return None
    match sound:
        case Normal(_, differs):
            spread = math.hypot(within * differs, error)
        case LogNormal(_, factor) if value > 0:
            differs = math.log(factor)
            spread = math.hypot(within * differs, error / value)
        case Uniform(low, high):
            differs = (high - low) / math.sqrt(12)
            spread = math.hypot(within * differs, error)
        case _:
            return None
    if not 0 < spread < differs:
        return None
    return LogNormal(value, math.exp(spread)) if isinstance(sound, LogNormal) else Normal(value, spread)


def _put(trees: Trees, spread: Distribution | None, check: Check, own: Spread) -> Distribution:
    """A spread, the part of it that is as a sound door put to this door's own level."""
    assert spread is not None and check.healthy is not None
    sound, changed = mostly(check.healthy), trees.costs.changed_since
    before, now = scale_of(check.healthy, check.plausible), scale_of(own, check.plausible)
    parts: list[tuple[float, Spread]] = []
    for share, part in spread.parts if isinstance(spread, Mixture) else ((1.0, spread),):
        if isinstance(part, (Mixture, Shares)) or isinstance(sound, (Mixture, Shares)):
            return spread
        if part == sound:
            parts += [(share * (1 - changed), own), *([(share * changed, sound)] if changed else [])]
        elif isinstance(part, Outward) and part.scale == before:
            parts.append((share, replace(_outward(part, sound, own), scale=now)))
        else:
            parts.append((share, part))
    return Mixture(tuple(parts)) if len(parts) > 1 else parts[0][1]


def _outward(part: Outward, sound: Spread, own: Spread) -> Outward:
    """This or worse, on this door: it begins as far from where its own sound ends as it did from that of all doors.

    Where it is full stays, for that says how bad the fault is; a door that is further out than others moves it along.
    """
    worse = part.end > part.full
    shift = extent(own, 2.0)[worse] - extent(sound, 2.0)[worse]
    outward = shift if (shift > 0) == worse else 0.0
    begins, full = part.begins + shift, part.full + outward
    return replace(part, begins=begins, full=full) if (part.end > full) == worse and full != part.end else part
