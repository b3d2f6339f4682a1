"""How far a reading may be off: standard uncertainties after the GUM (JCGM 100:2008)."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import msgspec


class Instrument(msgspec.Struct, frozen=True):
    """The limits of error of an instrument, as its data sheet gives them, in the reading's unit.

    ``percent`` of the reading; ``counts`` of the last digit, each of size ``step``; and ``absolute``. The
    display step is also what a reading is rounded to.

    Raises:
        ValueError: a limit is negative or not finite.
    """

    percent: float = 0.0
    counts: float = 0.0
    step: float = 0.0
    absolute: float = 0.0

    def __post_init__(self) -> None:
        for field in self.__struct_fields__:
            limit = getattr(self, field)
            if not (math.isfinite(limit) and limit >= 0):
                raise ValueError(f"An instrument's {field} is {limit}; it must be a number of 0 or more.")


def standard_uncertainty(instrument: Instrument, value: float) -> float:
    """The standard uncertainty of one reading, in the reading's unit.

    The limits ±a, with a = percent/100·|value| + counts·step + absolute, say only that the error lies within
    them; a rectangular distribution of half-width a has standard uncertainty a/√3 (JCGM 100:2008, 4.3.7).
    The rounding to the display step is left out on purpose: the likelihood of a reading integrates over the
    step, from half below to half above it, and would count it twice.

    Raises:
        ValueError: the value is not finite. A reading above the range ("OL") has no uncertainty in its unit.
    """
    if not math.isfinite(value):
        raise ValueError("A reading above the meter's range has no uncertainty; treat it as above the range.")
    limit = instrument.percent / 100.0 * abs(value) + instrument.counts * instrument.step + instrument.absolute
    return limit / math.sqrt(3.0)


def combine(values: Sequence[float], uncertainties: Sequence[float]) -> tuple[float, float]:
    """Repeated readings of one thing by one instrument: their mean and its standard uncertainty.

    The scatter averages out: s/√n, the experimental standard deviation of the mean (JCGM 100:2008, 4.2.3).
    The instrument's own error does not: it is the same in every reading, so the readings' uncertainties are
    fully correlated (5.2.4 names the common instrument as a cause) and add linearly, which for a mean is
    their plain average (5.2.2, note 1). The two are independent and add in quadrature (5.1.2). With two or
    three readings s is itself poorly known (E.4.3); no allowance is made for that.

    Raises:
        ValueError: nothing to combine, unequal numbers of values and uncertainties, or a value not finite.
    """
    if not values or len(values) != len(uncertainties):
        raise ValueError("Give one uncertainty for each reading, and at least one reading.")
    if not all(map(math.isfinite, (*values, *uncertainties))) or min(uncertainties) < 0:
        raise ValueError("Readings above the meter's range cannot be averaged.")
    count = len(values)
    mean = math.fsum(values) / count
    systematic = math.fsum(uncertainties) / count
    if count == 1:
        return mean, systematic
    variance_of_mean = math.fsum((value - mean) ** 2 for value in values) / (count - 1) / count
    return mean, math.sqrt(variance_of_mean + systematic**2)


def propagate(
    formula: Callable[..., float], values: Sequence[float], uncertainties: Sequence[float]
) -> tuple[float, float]:
    """A formula's result and its standard uncertainty, from independent inputs in the formula's order.

    u² = Σ(∂f/∂xᵢ·uᵢ)² (JCGM 100:2008, 5.1.2, equation 10), each term taken as half the change of the result
    over xᵢ ± uᵢ (5.1.3, note 2).

    Raises:
        ValueError: unequal numbers of values and uncertainties.
    """
    if len(values) != len(uncertainties):
        raise ValueError("Give one uncertainty for each input.")
    changes = []
    for index, uncertainty in enumerate(uncertainties):
        above, below = list(values), list(values)
        above[index] += uncertainty
        below[index] -= uncertainty
        changes.append((formula(*above) - formula(*below)) / 2.0)
    return formula(*values), math.hypot(*changes)
