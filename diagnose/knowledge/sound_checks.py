"""What makes a check meaningless by itself: its own keys, and what its formula takes and gives."""

from __future__ import annotations

from collections.abc import Iterable

from diagnose.knowledge import model
from diagnose.knowledge.amounts import amount
from diagnose.knowledge.problems import did_you_mean
from diagnose.knowledge.words import NotUnderstood


def check_faults(check: model.Check) -> Iterable[tuple[str, str]]:
    """What makes a check meaningless by itself."""
    kinds = [name for name in ("ask", "measure", "compute") if getattr(check, name)]
    if len(kinds) != 1:
        yield "A check asks, measures or computes.", "Write just one of 'ask:', 'measure:', 'compute:'."
        return
    if check.ask and len(check.answers) < 2:
        yield "A question needs two answers or more.", "Write 'answers: [yes, no]'."
    if len(set(check.answers)) != len(check.answers):
        yield "An answer is written twice.", "Keep one of the two."
    if model.COULD_NOT_TELL in check.answers:
        yield f"'{model.COULD_NOT_TELL}' is always offered.", "Take it out of the answers."
    if check.measure and not check.plausible:
        yield "A reading needs its plausible range.", "Write 'plausible: 0 to 60 V'."
    if check.measure and check.answers:
        yield "A reading has no answers to choose from.", "Write 'ask:' for a question."
    if check.compute and not check.formula:
        yield "A computed check needs its formula.", "Write 'formula: name'."
    if check.formula and not check.compute:
        yield "Only a computed check has a formula.", "Write 'compute:' in place of the question."
    if check.compute and not check.answers and not check.plausible:
        yield "A computed number needs its plausible range.", "Write 'plausible: 0 to 60 V'."
    if check.limit and (not check.is_number or check.series == "yes"):
        yield "Only a single number reaches a limit.", "Take 'limit:' out."


def formula_faults(check: model.Check) -> Iterable[tuple[tuple[str, ...], str, str]]:
    """The keys below a check, what is wrong and what to write, where its formula does not know a name."""
    if not check.formula:
        return
    from diagnose.formulas import FormulaError, all_formulas, find

    name, dot, output = check.formula.partition(".")
    try:
        formula = find(name)
    except FormulaError:
        mend = did_you_mean(name.replace("_", "-"), [each.name for each in all_formulas()])
        yield ("formula",), f"There is no formula '{name}'.", mend
        return
    gives = [each.name for each in formula.outputs]
    if dot and output not in gives:
        yield ("formula",), f"'{formula.name}' gives no '{output}'.", did_you_mean(output, gives)
    takes = {each.name: each for each in formula.inputs}
    for given in check.inputs:
        if given not in takes:
            key = ("inputs", given.replace("_", "-"))
            yield key, f"'{formula.name}' takes no '{given}'.", did_you_mean(given, takes)
    missing = [n for n, each in takes.items() if n not in check.inputs and each.default is None and not each.optional]
    if missing:
        mend = f"See 'diagnose calculate {formula.name}'."
        yield ("inputs",), f"'{formula.name}' still needs {', '.join(missing)}.", mend


def input_fault(formula: str, name: str, written: str) -> tuple[str, tuple[str, ...]]:
    """What is wrong with a value written out for a formula's input (``24 V``, ``phase: three``), and its choices.

    ``""`` where nothing is; nor is there where the formula, or its input, is not known: that is said elsewhere.
    """
    from diagnose.formulas import FormulaError, find

    try:
        wanted = find(formula.partition(".")[0]).input(name)
    except FormulaError:
        return "", ()
    if wanted.choices:
        known = {choice.casefold() for choice in wanted.choices}
        return "" if written.casefold() in known else "no check, no fact, and no choice", wanted.choices
    try:
        amount(written, wanted.unit)
    except NotUnderstood:
        return f"no check, no fact, and no number{f' in {wanted.unit}' if wanted.unit else ''}", ()
    return "", ()
