"""How far the mean of repeated readings may be off: standard uncertainties after the GUM (JCGM 100:2008)."""

from __future__ import annotations

import math
from collections.abc import Sequence


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
