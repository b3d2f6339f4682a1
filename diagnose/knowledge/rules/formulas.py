"""Computed checks: the formula is there, is fed with what it takes, and gives what the check says."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from diagnose.knowledge.checker import Book, Fault, rule_of
from diagnose.knowledge.model import Check, Trees

if TYPE_CHECKING:
    from diagnose.formulas import Formula, Input


@rule_of(["checks"], "formula-inputs")
def formula_inputs(book: Book, check: Check) -> Iterator[Fault]:
    """A computed check feeds its formula in the wrong dimension, or expects something else of it than it gives.

    Readings, facts and quantities are converted between units by themselves; volts cannot become feet. Names that a
    formula does not know are refused before, when the trees are loaded.

    Passes:
        wire-drop: {compute: Drop over the wire, unit: V, formula: voltage-drop.drop,
                    inputs: {amps: eye-current, run: eye-wire-run, gauge: 18 AWG, volts: 24 V}, …}
    Fails:
        wire-drop: {compute: Drop over the wire, unit: ft, formula: voltage-drop.drop,
                    inputs: {amps: eye-wire-run, run: eye-wire-run, gauge: 18 AWG, volts: 24 V}, …}
    """
    from diagnose.formulas import find

    trees = book.trees
    if not check.formula:
        return
    name, _, output = check.formula.partition(".")
    formula = find(name)
    yield from _output_faults(trees, check, formula, output)
    known = {each.name: each for each in formula.inputs}
    for given, written in check.inputs.items():
        for wrong, mend in _input_faults(trees, known[given], written):
            yield Fault(wrong, mend, ("inputs", given.replace("_", "-")))


def _output_faults(trees: Trees, check: Check, formula: Formula, output: str) -> Iterator[Fault]:
    gives = {each.name: each for each in formula.outputs}
    chosen = gives[output] if output else formula.outputs[0]
    if check.answers:
        if chosen.unit:
            wrong = f"'{chosen.name}' is a number in {chosen.unit}, and the check has words for answers."
            yield Fault(wrong, "Write 'unit:' and 'plausible:' in place of 'answers:'.", ("answers",))
        return
    if not _same_dimension(chosen.unit, check.unit):
        wrong = f"'{chosen.name}' is in {chosen.unit or 'no unit'}, which does not turn into {check.unit or 'no unit'}."
        yield Fault(wrong, "Give the check a unit of that dimension, or name another output.", ("unit",))
    if check.measured:
        measured = trees.checks[check.measured]
        if measured.kind != "reading":
            yield Fault(f"'{check.measured}' is no reading to take a result from.", "Name a reading.", ("measured",))
        elif not _same_dimension(measured.unit, check.unit):
            wrong = f"'{check.measured}' is in {measured.unit}, from which {check.unit} cannot be taken."
            yield Fault(wrong, "Name a reading of the check's own dimension.", ("measured",))


def _input_faults(trees: Trees, wanted: Input, written: str) -> Iterator[tuple[str, str]]:
    if written in trees.checks:
        yield from _check_faults(wanted, trees.checks[written])
        return
    if written in trees.facts:
        fact = trees.facts[written]
        if fact.many == "yes":
            yield f"The fact '{written}' may have several values at once.", "Name a fact with one, or a reading."
        elif wanted.choices:
            yield from _word_faults(wanted, fact.answers, written)
        elif not _same_dimension(fact.unit, wanted.unit):
            yield _dimension(wanted, written, fact.unit), "Name a fact or a reading of that dimension."
        return
    if not wanted.choices:
        yield from _limit_faults(wanted, written)


def _check_faults(wanted: Input, check: Check) -> Iterator[tuple[str, str]]:
    if wanted.choices:
        yield from _word_faults(wanted, check.answers, check.id)
        return
    if check.answers:
        yield f"'{check.id}' is answered in words, and '{wanted.name}' is a number.", "Name a reading."
        return
    if not _same_dimension(check.unit, wanted.unit):
        yield _dimension(wanted, check.id, check.unit), "Name a reading of that dimension."
    if wanted.many and check.series != "yes":
        yield f"'{wanted.name}' takes several values, and '{check.id}' is one.", "Write 'series: yes' on that reading."
    if check.series == "yes" and not wanted.many:
        yield f"'{wanted.name}' takes one value, and '{check.id}' is a series.", "Name a single reading."


def _word_faults(wanted: Input, answers: tuple[str, ...], written: str) -> Iterator[tuple[str, str]]:
    strange = [answer for answer in answers if answer.casefold() not in {c.casefold() for c in wanted.choices}]
    if strange or not answers:
        wrong = f"'{wanted.name}' takes {', '.join(wanted.choices)}; '{written}' may be '{(*strange, 'a number')[0]}'."
        yield wrong, "Give the same words on both sides."


def _limit_faults(wanted: Input, written: str) -> Iterator[tuple[str, str]]:
    from diagnose.formulas import FormulaError
    from diagnose.knowledge.amounts import amount

    value = amount(written, wanted.unit)
    try:
        wanted.read([value] if wanted.many else value)
    except FormulaError as error:
        yield str(error), f"Give '{wanted.name}' a value within its limits."


def _dimension(wanted: Input, written: str, unit: str) -> str:
    return f"'{wanted.name}' is in {wanted.unit or 'no unit'}; '{written}' is in {unit or 'no unit'}."


def _same_dimension(unit: str, wanted: str) -> bool:
    """Whether numbers in ``unit`` become numbers in ``wanted``; a bare number is as good as a count."""
    if unit == wanted:
        return True
    if not unit or not wanted:
        return {unit, wanted} <= {"", "count", "turns", "links"}
    from diagnose.quantities import QuantityError, same_dimension

    try:
        return same_dimension(unit, wanted)
    except QuantityError:
        return False
