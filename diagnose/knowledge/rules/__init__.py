"""The rules that need nothing but the entries, a few to a file by what they are about; each counts that is written."""

from diagnose.knowledge.checker import Rule
from diagnose.knowledge.rules import callers, components, formulas, functions, numbers, texts, uses, walks

RULES: tuple[Rule, ...] = tuple(
    each
    for module in (uses, numbers, formulas, texts, callers, functions, walks, components)
    for each in vars(module).values()
    if isinstance(each, Rule)
)
