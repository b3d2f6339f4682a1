"""The rules that need nothing but the entries, a few to a file by what they are about."""

from diagnose.knowledge.checker import Rule
from diagnose.knowledge.rules import callers, components, formulas, functions, numbers, texts, uses, walks

RULES: tuple[Rule, ...] = (
    *uses.RULES,
    *numbers.RULES,
    *formulas.RULES,
    *texts.RULES,
    *callers.RULES,
    *functions.RULES,
    *walks.RULES,
    *components.RULES,
)

__all__ = ["RULES"]
