"""Computed checks: a formula of the trade fed with readings, and the uncertainty that its inputs bring along."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from diagnose.knowledge.model import COULD_NOT_TELL, Check, Facts, Trees
from diagnose.reasoning.walk import Known


@dataclass(frozen=True)
class Computed:
    """``value`` in the check's unit (or a word), its standard uncertainty ``error``, and the working in one line."""

    value: str | float
    error: float
    working: str


def compute(
    trees: Trees, check: Check, known: Mapping[str, Known], errors: Mapping[str, float], facts: Facts
) -> Computed | None:
    """The value of a computed check, or ``None`` while an input is missing or the formula gives nothing there.

    Never raises, whatever the trees name: a check that cannot be computed tells nothing, and loading says why.
    Each input moves the result by what its error makes of it to both sides (JCGM 100:2008, 5.1.3, note 2), and the
    moves add in quadrature, inputs taken as independent (5.1.2).
    """
    from diagnose.formulas import FormulaError
    from diagnose.knowledge.words import NotUnderstood
    from diagnose.quantities import QuantityError

    try:
        return _compute(trees, check, known, errors, facts)
    except (FormulaError, NotUnderstood, QuantityError):
        return None


def _compute(
    trees: Trees, check: Check, known: Mapping[str, Known], errors: Mapping[str, float], facts: Facts
) -> Computed | None:
    from diagnose.formulas import find

    name, _, output = check.formula.partition(".")
    formula = find(name)
    gives = {item.name: item.unit for item in formula.outputs}
    chosen = output or formula.outputs[0].name
    if chosen not in gives:
        return None
    units = {item.name: item.unit for item in formula.inputs}
    values: dict[str, Known] = {}
    uncertain: dict[str, float] = {}
    for input_name, written in check.inputs.items():
        found = _input(trees, written, units.get(input_name, ""), known, errors, facts)
        if found is None:
            return None
        values[input_name], uncertain[input_name] = found
    measured: Known | None = known.get(check.measured) if check.measured else None
    if check.measured and not isinstance(measured, (int, float)):
        return None

    def evaluate(changed: Mapping[str, Known]) -> tuple[str | float, str]:
        result = formula.evaluate({**values, **changed})
        raw = result.values[chosen]
        if isinstance(raw, str):
            return raw, result.working
        number = _converted(float(raw), gives[chosen], check.unit)
        return (float(measured) - number if isinstance(measured, (int, float)) else number), result.working

    value, working = evaluate({})
    if isinstance(value, str) or check.answers:
        return Computed(value, 0.0, working) if value in check.answers else None
    if not math.isfinite(value):
        return None
    moves = [errors.get(check.measured, 0.0)] if check.measured else []
    for input_name, error in uncertain.items():
        base = values[input_name]
        if error > 0 and isinstance(base, (int, float)):
            moves.append(_moved_by(evaluate, input_name, base, error, value))
    uncertainty = math.hypot(*moves)
    return Computed(value, uncertainty, working) if math.isfinite(uncertainty) else None


def _moved_by(
    evaluate: Callable[[Mapping[str, Known]], tuple[str | float, str]],
    name: str,
    base: float,
    error: float,
    value: float,
) -> float:
    """How far the result moves with one input's error: Z = (f(x + u) - f(x - u)) / 2 (JCGM 100:2008, 5.1.3, note 2;
    from memory). Where the formula takes a value only to one side, at an end of its limits, the move to that side; to
    neither (a gauge), 0. Where both sides move it the same way the result turns between them, the first order says
    nothing, and the farther one is taken.
    """
    from diagnose.formulas import FormulaError

    slopes: list[float] = []
    for sign in (1, -1):
        try:
            moved, _ = evaluate({name: base + sign * error})
        except FormulaError:
            continue
        if isinstance(moved, float) and math.isfinite(moved):
            slopes.append(sign * (moved - value))
    if not slopes:
        return 0.0
    turns = min(slopes) < 0 < max(slopes)
    return max(slopes, key=abs) if turns else sum(slopes) / len(slopes)


def _input(
    trees: Trees,
    written: str,
    unit: str,
    known: Mapping[str, Known],
    errors: Mapping[str, float],
    facts: Facts,
) -> tuple[Known, float] | None:
    """An input's value in the formula's unit and its uncertainty; ``None`` while it is not known."""
    if written in trees.checks:
        value = known.get(written)
        if value is None or value == COULD_NOT_TELL:
            return None
        own = trees.checks[written].unit
        if isinstance(value, tuple):
            return tuple(_converted(number, own, unit) for number in value), 0.0
        if isinstance(value, str):
            return value, 0.0
        if not math.isfinite(value):
            return None
        scale = _converted(1.0, own, unit) - _converted(0.0, own, unit)
        return _converted(value, own, unit), errors.get(written, 0.0) * abs(scale)
    if written in trees.facts:
        stated = facts.get(written)
        if not isinstance(stated, str):
            return None
        return (_quantity(stated, unit) if trees.facts[written].unit else stated), 0.0
    return (_quantity(written, unit) if any(c.isdigit() for c in written) else written), 0.0


def _quantity(text: str, unit: str) -> float:
    from diagnose.knowledge.amounts import amount

    return amount(text, unit)


def _converted(value: float, unit: str, wanted: str) -> float:
    if unit == wanted or not unit or not wanted:
        return value
    from diagnose.quantities import QuantityError, same_dimension, to_si, to_unit

    if not same_dimension(unit, wanted):
        raise QuantityError(f"{unit} does not turn into {wanted}.")
    return to_unit(to_si(value, unit), wanted)
