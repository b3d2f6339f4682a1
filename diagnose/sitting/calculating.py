"""A formula asked for, under every face: what is typed for an input, what is still wanted, and whose it is."""

from __future__ import annotations

from collections.abc import Collection
from itertools import groupby

from diagnose.formulas import Formula, FormulaError, Input, all_formulas
from diagnose.formulas.registry import Value
from diagnose.quantities import QuantityError, known_unit, read_quantity, to_unit


def by_subject() -> list[tuple[str, list[Formula]]]:
    return [(subject, list(each)) for subject, each in groupby(all_formulas(), lambda formula: formula.subject)]


def read_input(wanted: Input, typed: str) -> Value:
    """What was typed, in the input's own unit: a word or its first letters, a number, or a list of those.

    A bare number is in that unit; another unit of the same kind is converted. Raises ``FormulaError``.
    """
    from diagnose.calls.answering import series_parts

    if wanted.choices:
        begun = [choice for choice in wanted.choices if choice.casefold().startswith(typed.strip().casefold())]
        return wanted.read(begun[0] if len(begun) == 1 else typed)
    if not wanted.unit or not known_unit(wanted.unit):
        return wanted.read(series_parts(typed) if wanted.many else typed)
    try:
        numbers = [_number(part, wanted.unit) for part in (series_parts(typed) if wanted.many else [typed])]
    except QuantityError as error:
        raise FormulaError(str(error)) from None
    return wanted.read(numbers if wanted.many else numbers[0])


def _number(typed: str, unit: str) -> float:
    # There and back through SI leaves 20 °C a hair below 20.
    return float(f"{to_unit(read_quantity(typed, unit).value, unit):.12g}")


def still_wanted(formula: Formula, given: Collection[str] = ()) -> list[Input]:
    """The inputs that cannot be left out, and are not among those ``given`` by name."""
    return [each for each in formula.inputs if each.name not in given and each.default is None and not each.optional]


def source_of(formula: Formula) -> str:
    """Whose formula it is, and whether that was only remembered."""
    return f"{formula.source} (from memory)" if formula.from_memory else formula.source
