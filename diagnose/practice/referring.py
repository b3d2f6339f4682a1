"""What scenarios and doors from life say of a door, held against the trees: its facts, and how checks are answered."""

from __future__ import annotations

from collections.abc import Iterator

from diagnose.calls.answering import AnswerError, understand
from diagnose.knowledge.fitting import misfits
from diagnose.knowledge.model import Facts, Trees, applies
from diagnose.knowledge.problems import did_you_mean
from diagnose.knowledge.references import fact_faults


def as_the_trees_have_them(trees: Trees, facts: Facts) -> dict[str, str | tuple[str, ...]]:
    """Facts of which several may hold as tuples, the others as text, however they were written."""
    several = {name for name in facts if name in trees.facts and trees.facts[name].many == "yes"}
    return {name: (v,) if name in several and isinstance(v, str) else v for name, v in facts.items()}


def faults_of_facts(trees: Trees, facts: Facts) -> Iterator[tuple[str, str, str, str]]:
    """The fact, what is wrong with what is said of it, what to do, and the rule that is broken."""
    yield from ((*fault, "unknown-id") for fault in fact_faults(trees.facts, facts))
    for name, value in facts.items():
        if name in trees.facts and trees.facts[name].many == "no" and not isinstance(value, str):
            yield name, f"Only one answer to '{name}' can hold.", "Write one of them.", "shape"
    yield from ((*fault, "together") for fault in misfits(trees.facts, facts))


def faults_of_answer(trees: Trees, name: str, text: str, facts: Facts | None = None) -> Iterator[tuple[str, str, str]]:
    """What is wrong with a check and what one would type for it, on a door with ``facts``; what to do, and the rule."""
    check = trees.checks.get(name)
    if check is None:
        yield f"'{name}' is no check.", did_you_mean(name, trees.checks), "unknown-id"
        return
    if not applies(check.applies, facts or {}):
        yield f"'{name}' is not for such a door.", "Change the facts, or leave it out.", "applies"
    try:
        understand(check, text)
    except AnswerError as error:
        yield f"'{name}' is not answered so.", str(error), "answer"
