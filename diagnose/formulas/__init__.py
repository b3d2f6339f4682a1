"""The trade's arithmetic: pure, sourced, unit-checked; it knows nothing of the rest of the program."""

from .registry import Formula, FormulaError, Input, Output, Result, all_formulas, find

__all__ = ["Formula", "FormulaError", "Input", "Output", "Result", "all_formulas", "find"]
