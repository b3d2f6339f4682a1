"""Which parts go on the van: the newsvendor's ratio for each, and the best load where they do not all fit.

A part left behind costs a second trip when it is needed, a part taken for nothing costs carrying it. By itself each
part is a newsvendor's problem (Arrow, Harris & Marschak, *Optimal inventory policy*, 1951): take it from a chance of
need of cost for nothing / (cost for nothing + cost of a second trip). A remedy needs all its parts or none, parts serve
several remedies, and the van is small: so the load as a whole is the optimum of an integer programme.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from diagnose.knowledge.model import Part, Van


@dataclass(frozen=True)
class Use:
    """A remedy that may be needed: its chance, and all that it takes (part → count)."""

    remedy: str
    chance: float
    parts: Mapping[str, int]


@dataclass(frozen=True)
class Load:
    """A part on the list: how many, P(needed), and from which chance of need it is worth taking."""

    part: str
    count: int
    chance: float
    worth_from: float


@dataclass(frozen=True)
class VanLoad:
    """``loads`` likeliest first. ``no_room`` are parts worth taking that do not fit; ``weight`` in kg, ``volume`` in l.

    ``covered`` is the chance that everything the repair takes is on the van; no parts at all count as all of them.
    """

    loads: tuple[Load, ...]
    no_room: tuple[Load, ...]
    weight: float
    volume: float
    covered: float


def critical_ratio(without: float, for_nothing: float) -> float:
    """The newsvendor's ratio Cu/(Cu+Co): the share of demands that should be met. Costs of a unit too few, too many."""
    return without / (without + for_nothing)


def load_van(
    uses: Sequence[Use], parts: Mapping[str, Part], van: Van, second_trip: float, money_per_minute: float
) -> VanLoad:
    """The load with the least expected cost within the van's weight and volume. Costs are in minutes' worth."""
    problem = _Problem([use for use in uses if use.chance > 1e-6], parts, van, second_trip, money_per_minute)
    best = problem.solve(van.weight, van.volume)
    weight = sum(parts[part].weight * count for part, count in best.items())
    volume = sum(parts[part].volume * count for part, count in best.items())
    wanted = problem.solve(math.inf, math.inf)
    left = {part: count - best.get(part, 0) for part, count in wanted.items() if count > best.get(part, 0)}
    without_parts = 1 - sum(use.chance for use in problem.uses if use.parts)
    met = sum(use.chance for use in problem.uses if use.parts and _met(use, best))
    return VanLoad(problem.listed(best), problem.listed(left), weight, volume, without_parts + met)


def _met(use: Use, load: Mapping[str, int]) -> bool:
    return all(load.get(part, 0) >= count for part, count in use.parts.items())


class _Problem:
    """Σ second_trip · P(remedy) · [all its parts are there] − Σ carrying · P(part not needed), to be made largest."""

    def __init__(
        self, uses: Sequence[Use], parts: Mapping[str, Part], van: Van, second_trip: float, money_per_minute: float
    ) -> None:
        self.uses = [use for use in uses if all(part in parts for part in use.parts)]
        self._parts, self._second_trip = parts, second_trip
        self._kinds = sorted({part for use in self.uses for part in use.parts})
        self._picking = van.picking
        self._each = {
            part: van.per_kilogram * parts[part].weight + van.wear * parts[part].price / money_per_minute
            for part in self._kinds
        }
        self.chance = {part: sum(use.chance for use in self.uses if part in use.parts) for part in self._kinds}

    def listed(self, load: Mapping[str, int]) -> tuple[Load, ...]:
        loads = [
            Load(
                part, count, self.chance[part], 1 - critical_ratio(self._second_trip, self._picking + self._each[part])
            )
            for part, count in load.items()
        ]
        return tuple(sorted(loads, key=lambda each: (-each.chance, each.part)))

    def solve(self, weight: float, volume: float) -> dict[str, int]:
        """Part → count. Exact: an integer programme; each part has a count and a yes-or-no, each remedy a yes-or-no."""
        uses = [use for use in self.uses if use.parts]
        if not uses:
            return {}
        import numpy as np
        from scipy.optimize import Bounds, LinearConstraint, milp

        kinds, count = self._kinds, len(self._kinds)
        most = np.array([max(use.parts.get(part, 0) for use in uses) for part in kinds], dtype=float)
        idle = np.array([1 - self.chance[part] for part in kinds])
        each = np.array([self._each[part] for part in kinds]) * idle
        gain = np.array([self._second_trip * use.chance for use in uses])
        cost = np.concatenate([each, self._picking * idle, -gain])
        rows, upper = [], []
        for number, use in enumerate(uses):
            for part, needed in use.parts.items():
                row = np.zeros(len(cost))
                row[2 * count + number], row[kinds.index(part)] = needed, -1.0
                rows.append(row)
                upper.append(0.0)
        for index in range(count):
            row = np.zeros(len(cost))
            row[index], row[count + index] = 1.0, -most[index]
            rows.append(row)
            upper.append(0.0)
        for limit, field in ((weight, "weight"), (volume, "volume")):
            if math.isfinite(limit):
                row = np.zeros(len(cost))
                row[:count] = [getattr(self._parts[part], field) for part in kinds]
                rows.append(row)
                upper.append(limit)
        result = milp(
            cost,
            constraints=LinearConstraint(np.array(rows), ub=np.array(upper)),
            integrality=np.ones(len(cost)),
            bounds=Bounds(0.0, np.concatenate([most, np.ones(count + len(uses))])),
        )
        if result.x is None:
            return {}
        return {part: round(n) for part, n in zip(kinds, result.x[:count], strict=True) if round(n) > 0}
