"""Reading, converting and showing what technicians type: ``3 1/8 in``, ``112,5``, ``1k5``, ``#14``, ``OL``.

What is not understood wholly, and in one way only, is refused with a sentence that says what to type.
Imports nothing else of ours.
"""

from __future__ import annotations

from diagnose.quantities.instrument import combine
from diagnose.quantities.parse import read_quantity
from diagnose.quantities.plausible import implausible
from diagnose.quantities.quantity import Quantity, QuantityError
from diagnose.quantities.show import show
from diagnose.quantities.typed import as_typed, took_the_unit
from diagnose.quantities.units import (
    canonical_unit,
    known_unit,
    same_dimension,
    to_si,
    to_unit,
    unit_size,
)

__all__ = [
    "Quantity",
    "QuantityError",
    "as_typed",
    "canonical_unit",
    "combine",
    "implausible",
    "known_unit",
    "read_quantity",
    "same_dimension",
    "show",
    "to_si",
    "to_unit",
    "took_the_unit",
    "unit_size",
]
