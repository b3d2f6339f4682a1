"""Five thousand typed readings, good and bad, against a generator that knows what each must be."""

from __future__ import annotations

from collections import Counter
from fractions import Fraction

import pytest

from tests.abuse.typed_readings import REFUSED, Case, check, run


def test_every_text_is_read_rightly_or_refused() -> None:
    read, refused = run(5_000, seed=20)
    # Every sort turned up, and those that must be read were not all refused.
    must_read = ["point", "comma", "thousands", "exponent", "fraction", "feet and inches", "time", "temperature"]
    assert all(read[how] > 20 and not refused[how] for how in [*must_read, "gauge", "letter for point", "open"])
    spoilt = Counter({how: count for how, count in refused.items() if how.startswith("spoilt: ")})
    assert len(spoilt) == 13 and min(spoilt.values()) > 20
    assert not any(read[how] for how in spoilt)


@pytest.mark.parametrize(
    ("case", "complaint"),
    [
        (Case("wrong value", "24 V", "V", Fraction(25)), "read as"),
        (Case("should be refused", "24 V", "V", REFUSED), "read"),
        (Case("should be read", "24 vlots", "V", Fraction(24)), "refused"),
    ],
)
def test_the_check_can_fail(case: Case, complaint: str) -> None:
    with pytest.raises(AssertionError, match=complaint):
        check(case)
