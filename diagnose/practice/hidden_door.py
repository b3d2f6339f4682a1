"""A door with known faults that answers as such a door would.

Answers are drawn from the same likelihoods the reasoning uses: what a cause's signs say, the instrument's error
on every reading, and now and then a slip. Readings that feed a formula are drawn so that the formula gives what
the hidden cause's signs say of its result.
"""

from __future__ import annotations

import math
import zlib
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from diagnose.calls.inference import in_check_unit
from diagnose.calls.state import Answer
from diagnose.knowledge.distributions import (
    Beyond,
    Distribution,
    LogNormal,
    Mixture,
    Normal,
    Outward,
    Shares,
    Uniform,
    centre,
    extent,
    quantile,
    scale_of,
)
from diagnose.knowledge.model import UNLISTED, Check, Facts, Trees, applies
from diagnose.reasoning.compute import compute
from diagnose.reasoning.situation import instrument_error, slip_of
from diagnose.reasoning.walk import Known, inputs_of

# A fault nobody has written down shows, at each check it touches, an answer of its own.
_UNLISTED_TOUCHES = 0.35
# How hard to look for readings on which all the formulas of a door agree.
_MOST_DRAWS = 3
_MOST_ROUNDS = 4
_NEAR_END = np.array([1e-4, 1e-3, 1e-2])
_STEPS = np.array([-1.0, -0.5, -0.25, -0.1, -0.04, -0.015, -0.005, 0.0, 0.005, 0.015, 0.04, 0.1, 0.25, 0.5, 1.0])


@dataclass
class HiddenDoor:
    """The faults in a door and its hidden truth, drawn from ``seed``.

    ``faults`` are cause ids, ``unlisted`` among them for a fault no tree names. The truth behind a check is drawn
    once and stays until a remedy changes the door; what is read of it varies with the instrument. Every draw has a
    stream of its own, named by what it is for: what one person finds does not hang on what else they looked at.
    ``findings`` are truths fixed by hand: check id → what a person would type.
    """

    trees: Trees
    facts: Facts
    faults: set[str]
    seed: int
    slips: bool = True
    findings: Mapping[str, str] = field(default_factory=dict)
    _truth: dict[str, Known] = field(default_factory=dict)
    _counts: Counter[str] = field(default_factory=Counter)
    _repairs: int = 0
    random: np.random.Generator = field(init=False)

    def _stream(self, name: str) -> None:
        """Draw from the stream called ``name`` from here on; each time it is called it is another one."""
        self._counts[name] += 1
        key = zlib.crc32(f"{name} {self._counts[name]} {self._repairs}".encode())
        self.random = np.random.default_rng([self.seed, key])

    def look(self, check: Check) -> str | float:
        """What a person finds now: a choice, or a number in the check's unit as the instrument shows it."""
        truth = self.truth(check)
        self._stream(f"look {check.id}")
        if isinstance(truth, str):
            if self.slips and self.random.random() < slip_of(self.trees, check):
                return str(self.random.choice(list(check.answers)))
            return truth
        assert isinstance(truth, float)
        if self.slips and check.plausible and self.random.random() < slip_of(self.trees, check):
            scale = scale_of(check.healthy, check.plausible)
            low, high = check.plausible
            slipped = self.random.uniform(scale.place(low), scale.place(high))
            return self._shown(check, scale.reading(float(slipped)))
        return self._shown(check, truth + float(self.random.normal(0.0, instrument_error(check, truth) or 1e-12)))

    def look_series(self, check: Check) -> tuple[float, ...]:
        """The values of a series, as found cycle by cycle."""
        truth = self.truth(check)
        return truth if isinstance(truth, tuple) else (float(truth),) if not isinstance(truth, str) else ()

    def typed(self, check: Check) -> str:
        if check.series == "yes":
            return "; ".join(f"{value:.6g}" for value in self.look_series(check))
        found = self.look(check)
        if isinstance(found, str):
            return found
        return "OL" if math.isinf(found) else f"{found:.6g} {check.unit}".strip()

    def truth(self, check: Check) -> Known:
        """What is so, without error or slip."""
        if check.id not in self._truth:
            self._stream(f"truth {check.id}")
            self._truth[check.id] = self._draw(check)
        return self._truth[check.id]

    def try_remedy(self, remedy: str) -> bool:
        """Do a remedy: each fault it removes goes with its chance. True if any fault went."""
        self._stream(f"remedy {remedy}")
        removed = {
            fault
            for fault in sorted(self.faults)
            if fault != UNLISTED and self.random.random() < self.trees.causes[fault].remedies.get(remedy, 0.0)
        }
        self.faults -= removed
        if removed:
            # The door is another one now: what was so has to be found anew, save what was fixed by its story.
            self._truth.clear()
            self._repairs += 1
        return bool(removed)

    def bring(self, fault: str) -> None:
        """Something breaks: a cause comes into the door, and what it shows is found from now on."""
        self.faults = {*self.faults, fault}
        self._truth.clear()
        self._repairs += 1

    def _draw(self, check: Check) -> Known:
        if self._is_fixed(check.id):
            return self._found_by_hand(check, self.findings[check.id])
        component = self._component(check)
        if component:
            self._draw_together(component)
            if check.id in self._truth:
                return self._truth[check.id]
        return self._plain(check)

    def _is_fixed(self, check: str) -> bool:
        """Whether a truth is fixed by hand: as long as the door has a fault."""
        return check in self.findings and bool(self.faults)

    def _plain(self, check: Check) -> Known:
        """A check's truth from the faults' signs alone."""
        states = [self._state(check, fault) for fault in sorted(self.faults)]
        healthy = check.healthy
        if healthy is None:
            return self._typical(check)
        changed = [state for state in states if state is not None]
        if isinstance(healthy, Shares):
            return self._choose(healthy, [state for state in changed if isinstance(state, Shares)])
        if not changed:
            return self._sample(healthy)
        return self._sample(max(changed, key=lambda state: _departure(state, healthy)))

    def _state(self, check: Check, fault: str) -> Distribution | None:
        if fault != UNLISTED:
            return self.trees.causes[fault].signs.get(check.id)
        if check.healthy is None or self.random.random() >= _UNLISTED_TOUCHES:
            return None
        if isinstance(check.healthy, Shares):
            return Shares(dict.fromkeys(check.answers, 1.0 / len(check.answers)))
        return Uniform(*check.plausible) if check.plausible else None

    def _choose(self, healthy: Shares, changed: Sequence[Shares]) -> str:
        """One answer: each fault shows its own with its chance, one of those that show is seen (noisy-or)."""
        answers = list(healthy.shares)
        base = np.array([healthy.shares[answer] for answer in answers])
        showing = []
        for state in changed:
            column = np.array([state.shares[answer] for answer in answers])
            kept = min(1.0, float(np.min(np.divide(column, base, out=np.full_like(column, np.inf), where=base > 0))))
            if self.random.random() < 1 - kept:
                own = np.clip(column - kept * base, 0, None)
                showing.append(own / own.sum())
        weights = base / base.sum() if not showing else showing[int(self.random.integers(len(showing)))]
        return str(self.random.choice(answers, p=weights))

    def _sample(self, spread: Distribution) -> float:
        match spread:
            case Normal(mean, deviation):
                return float(self.random.normal(mean, deviation))
            case LogNormal(median, factor):
                return float(median * factor ** self.random.normal())
            case Uniform(low, high):
                return float(self.random.uniform(low, high))
            case Mixture(parts):
                index = int(self.random.choice(len(parts), p=[share for share, _ in parts]))
                return self._sample(parts[index][1])
            case Outward():
                return quantile(spread, float(self.random.random()))
            case Beyond():
                return math.inf
            case Shares():
                raise TypeError("A question has no number.")

    def _typical(self, check: Check) -> Known:
        """A reading nothing is said of: an input of a formula, drawn from the middle of its plausible range."""
        if check.answers:
            return str(self.random.choice(list(check.answers)))
        low, high = check.plausible or (0.0, 1.0)
        middle, width = (low + high) / 2, (high - low) / 8
        return _on_step(check, float(np.clip(self.random.normal(middle, width), low, high)))

    def _component(self, check: Check) -> list[Check]:
        """The computed checks of this door that hang together with ``check`` through shared inputs."""
        computed = [
            other
            for other in self.trees.checks.values()
            if other.kind == "computed" and other.healthy is not None and applies(other.applies, self.facts)
        ]
        names, found = {check.id}, []
        grown = True
        while grown:
            grown = False
            for other in computed:
                inputs = {*inputs_of(self.trees, other), other.id}
                if other not in found and names & inputs:
                    found.append(other)
                    names |= inputs
                    grown = True
        return found

    def _signs(self, fault: str) -> Mapping[str, Distribution]:
        return {} if fault == UNLISTED else self.trees.causes[fault].signs

    def _draw_together(self, component: Sequence[Check]) -> None:
        """Draw the inputs of computed checks so that each formula gives what the faults say of its result.

        Every input and every result is drawn by itself; then inputs are bent, the ones nothing is said of first,
        until the results agree or a few rounds have passed. The best of some draws is kept.
        """
        names = list(dict.fromkeys(name for computed in component for name in inputs_of(self.trees, computed)))
        names = [name for name in names if self.trees.checks[name].kind != "computed"]
        best: dict[str, Known] = {}
        fewest = len(component) + 1
        for _ in range(_MOST_DRAWS):
            truth = {name: self._truth.get(name, self._found(name)) for name in names}
            targets = {computed.id: self._plain(computed) for computed in component}
            exact = True
            for _ in range(_MOST_ROUNDS):
                off = [c for c in component if not self._agrees(c, truth, targets[c.id], exact)]
                if not off:
                    break
                for computed in off:
                    self._bend(computed, component, truth, targets[computed.id])
                exact = False
            wrong = sum(not self._agrees(c, truth, targets[c.id], exact=False) for c in component)
            if wrong < fewest:
                fewest, best = wrong, truth
            if not wrong:
                break
        self._truth.update(best)

    def _found(self, name: str) -> Known:
        check = self.trees.checks[name]
        if self._is_fixed(name):
            return self._found_by_hand(check, self.findings[name])
        if check.series == "yes":
            return self._series(check)
        return self._plain(check)

    def _agrees(self, computed: Check, truth: Mapping[str, Known], target: Known, exact: bool) -> bool:
        """Whether the formula gives what it should: the very target, or at least what the same state would show."""
        result = compute(self.trees, computed, truth, {}, self.facts)
        if result is None or isinstance(result.value, str) or isinstance(target, str):
            return result is not None and result.value == target
        assert isinstance(target, float)
        if not math.isfinite(target):
            return True
        low, high = self._reach(computed)
        near = abs(result.value - target) < 1e-3 * max(high - low, 1e-9)
        return near or (not exact and low <= result.value <= high)

    def _reach(self, check: Check) -> tuple[float, float]:
        """Where nearly all of a check's values lie, given the faults."""
        assert check.healthy is not None
        states = [self._signs(fault).get(check.id) for fault in sorted(self.faults)]
        changed = [state for state in states if state is not None]
        healthy = check.healthy
        state = max(changed, key=lambda state: _departure(state, healthy)) if changed else healthy
        low, high = extent(state, 2.0)
        return (low, high) if math.isfinite(low) and math.isfinite(high) else check.plausible or (low, high)

    def _bend(self, computed: Check, component: Sequence[Check], truth: dict[str, Known], target: Known) -> None:
        """Change one input until the formula gives the target: those nothing is said of first, shared ones last."""
        names = [name for name in inputs_of(self.trees, computed) if name in truth and name not in self.findings]
        names = [name for name in names if name not in self._truth]

        def said(name: str) -> tuple[bool, bool, int]:
            signed = any(name in self._signs(fault) for fault in self.faults)
            shared = sum(name in inputs_of(self.trees, other) for other in component)
            return signed, self.trees.checks[name].healthy is not None, shared

        for name in sorted(names, key=said):
            check = self.trees.checks[name]
            if isinstance(target, str):
                for _ in range(12):
                    truth[name] = self._series(check) if check.series == "yes" else self._wide(check)
                    if self._agrees(computed, truth, target, exact=True):
                        return
            elif isinstance(target, float) and self._solve(computed, check, truth, target):
                return

    def _solve(self, computed: Check, check: Check, truth: dict[str, Known], target: float) -> bool:
        """Move one reading, or a whole series by the same amount, to where the formula gives the target."""
        from scipy.optimize import brentq

        base = truth[check.id]
        if isinstance(base, str) or not check.plausible or check.answers or not math.isfinite(target):
            return False
        low, high = check.plausible if check.healthy is None else _overlap(check.plausible, self._reach(check))
        middle = base if isinstance(base, float) else sum(base) / len(base)

        def moved(value: float) -> Known:
            if isinstance(base, float):
                return value
            return tuple(one + value - middle for one in base)

        def miss(value: float) -> float:
            result = compute(self.trees, computed, {**truth, check.id: moved(value)}, {}, self.facts)
            return math.nan if result is None or isinstance(result.value, str) else result.value - target

        # Finer near where the value is now: a small change is likelier than a large one; and near the ends, where a
        # formula may not hold: nothing is a share of no current.
        near_ends = np.concatenate([low + (high - low) * _NEAR_END, high - (high - low) * _NEAR_END])
        grid = np.unique(np.concatenate([np.clip(middle + (high - low) * _STEPS, low, high), near_ends]))
        misses = np.array([miss(float(value)) for value in grid])
        crossings = [i for i in range(len(grid) - 1) if misses[i] * misses[i + 1] <= 0]
        if not crossings:
            return False
        nearest = min(crossings, key=lambda i: abs(float(grid[i]) - middle))
        try:
            root = float(brentq(miss, float(grid[nearest]), float(grid[nearest + 1]), xtol=1e-6))
        except ValueError:
            # The formula does not hold all the way between the two.
            return False
        on_step = _on_step(check, root) if check.instrument and check.instrument.step >= 1 else root
        truth[check.id] = moved(on_step)
        return True

    def _wide(self, check: Check) -> Known:
        if check.answers or not check.plausible:
            return self._typical(check)
        return _on_step(check, float(self.random.uniform(*check.plausible)))

    def _series(self, check: Check) -> tuple[float, ...]:
        """Values cycle by cycle: steady, slipping, jumping or scattered, by turns at random."""
        low, high = check.plausible or (-1.0, 1.0)
        scale = (high - low) / 200
        cycles = np.arange(10)
        values = self.random.normal(0, scale / 3, 10)
        kind = int(self.random.integers(4))
        if kind == 1:
            values = values + cycles * scale * self.random.choice([-1.0, 1.0])
        elif kind == 2:
            values = values + np.where(cycles >= self.random.integers(3, 8), 8 * scale, 0.0)
        elif kind == 3:
            values = values * 6
        middle = min(max(0.0, low), high)
        return tuple(float(value) for value in np.clip(middle + values, low, high))

    def _found_by_hand(self, check: Check, text: str) -> Known:
        from diagnose.calls.answering import understand

        understood = understand(check, text)
        if isinstance(understood.value, str):
            return understood.value
        answer = Answer(check.id, understood.value, (text,), understood.unit, "seen", "", "", 0)
        value, _ = in_check_unit(check, answer)
        return value

    def _shown(self, check: Check, value: float) -> float:
        """As the instrument shows it: rounded to its step, held to its range."""
        if math.isinf(value):
            return value
        if check.plausible:
            low, high = check.plausible
            value = min(max(value, low), high)
        return _on_step(check, value)


def _overlap(one: tuple[float, float], other: tuple[float, float]) -> tuple[float, float]:
    low, high = max(one[0], other[0]), min(one[1], other[1])
    return (low, high) if low < high else one


def _on_step(check: Check, value: float) -> float:
    """The nearest value the instrument can show: a gauge of wire or a count is whole."""
    step = check.instrument.step if check.instrument else 0.0
    return round(value / step) * step if step else value


def _departure(state: Distribution, healthy: Distribution) -> float:
    """How far a state lies from healthy, in healthy widths; an open circuit lies furthest."""
    low, high = extent(healthy, 1.0)
    width = max(high - low, 1e-9) if math.isfinite(high - low) else 1.0
    distance = abs(centre(state) - centre(healthy)) / width
    return math.inf if math.isnan(distance) else distance
