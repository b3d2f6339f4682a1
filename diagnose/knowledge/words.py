"""How experts write numbers, likelihood in words and base rates as counts of calls; and how they read them.

The table follows Sherman Kent, *Words of Estimative Probability* (1964): almost certain 93, probable 75,
chances about even 50, probably not 30, almost certainly not 7. The two ends are ours: no answer at a door is
certain, so ``always`` and ``never`` leave a fiftieth for the unforeseen.
"""

from __future__ import annotations

import re
from datetime import datetime, tzinfo
from typing import Any

LIKELIHOOD_WORDS: dict[str, float] = {
    "always": 0.98,
    "almost-certain": 0.93,
    "probable": 0.75,
    "even": 0.50,
    "unlikely": 0.30,
    "rare": 0.07,
    "never": 0.02,
    "impossible": 0.0,
}
# No number that anybody means has more digits than these.
_AMOUNT, _CALLS = r"(\d{0,9}\.?\d{0,12}(?<=\d))", r"\s+per\s+(\d{1,9}(?:\.\d{0,12})?)\s+calls?"
_RATE = re.compile(_AMOUNT + _CALLS)
_RATES = re.compile(_AMOUNT + r"\s+to\s+" + _AMOUNT + _CALLS)


class NotUnderstood(ValueError):
    """What is written cannot be read; ``str`` says what is wrong, ``mend`` what may be written instead."""

    def __init__(self, wrong: str, mend: str) -> None:
        self.wrong = wrong
        self.mend = mend
        super().__init__(f"{wrong} {mend}")


def read_likelihood(written: Any) -> float:
    """A word of the table, or a number from 0 to 1."""
    if isinstance(written, str) and written in LIKELIHOOD_WORDS:
        return LIKELIHOOD_WORDS[written]
    if isinstance(written, (int, float)) and not isinstance(written, bool):
        if 0 <= written <= 1:
            return float(written)
        raise NotUnderstood(f"A likelihood of {shortened(written)} is out of range.", "Write a number from 0 to 1.")
    words = ", ".join(LIKELIHOOD_WORDS)
    raise NotUnderstood(f"'{shortened(written)}' is no likelihood.", f"Write one of {words}, or a number from 0 to 1.")


def read_chance(written: Any) -> float:
    """A likelihood, or a range of them (``probable to always``), of which the middle is taken."""
    if isinstance(written, str) and " to " in written:
        low, high = (number_or_word(part.strip()) for part in written.split(" to ", 1))
        return (read_likelihood(low) + read_likelihood(high)) / 2
    return read_likelihood(written)


def read_rate(written: Any) -> float:
    """A base rate: ``35 per 1000 calls``, or the share of calls itself."""
    if isinstance(written, str):
        match = _RATE.fullmatch(written.strip())
        if not match or float(match[2]) <= 0:
            raise NotUnderstood(f"'{shortened(written)}' is no base rate.", "Write it like '35 per 1000 calls'.")
        share = float(match[1]) / float(match[2])
    elif isinstance(written, (int, float)):
        share = float(written)
    else:
        raise NotUnderstood("A base rate is missing its number.", "Write it like '35 per 1000 calls'.")
    if not 0 < share < 1:
        wrong = f"A base rate of {shortened(written)} is out of range."
        raise NotUnderstood(wrong, "It must lie between 0 and 1, or be written like '35 per 1000 calls'.")
    return share


def read_share(written: Any) -> tuple[float, float]:
    """The share of all calls that a part of the job has, from lowest to highest: ``9 to 13 per 100 calls``."""
    match = _RATES.fullmatch(str(written).strip())
    low, high, calls = map(float, match.groups()) if match else (0.0, 0.0, 0.0)
    if not low < high <= calls:
        wrong = f"'{shortened(written)}' is no share of calls."
        raise NotUnderstood(wrong, "Write it like '9 to 13 per 100 calls', the lower number first.")
    return low / calls, high / calls


def shortened(written: Any, most: int = 40) -> str:
    """What is written, in a message: its beginning, where it is long."""
    text = str(written)
    return text if len(text) <= most else f"{text[:most]}…"


def number_or_word(text: str) -> float | str:
    """A bare number as such; anything else as it stands."""
    try:
        return float(text)
    except ValueError:
        return text


def percent(share: float) -> str:
    """A share from 0 to 1 as a whole percentage; what is not nought is never shown as nought, nor as certain."""
    if 0 < share < 0.005:
        return "<1 %"
    if 0.995 <= share < 1:
        return ">99 %"
    return f"{100 * share:.0f} %"


def minutes(value: float) -> str:
    """``4 min``, ``2 h 10 min``: whoever plans a day counts in hours. Less than half a minute is still something."""
    hours, rest = divmod(max(1, round(value)) if value else 0, 60)
    return " ".join(filter(None, (f"{hours} h" if hours else "", f"{rest} min" if rest else ""))) or "0 min"


def roughly(value: float) -> str:
    """Minutes that are only an estimate: to 5 from 10 on, to 10 from one hour, to half an hour from three."""
    step = 1 if value < 10 else 5 if value < 60 else 10 if value < 180 else 30
    return minutes(step * round(value / step))


def about(value: float) -> str:
    """``about 20 min``, ``about 1 h 50 min``."""
    return f"about {roughly(value)}"


def counted(number: int, one: str, many: str = "") -> str:
    """``1 call``, ``2 calls``."""
    return f"{number} {one if number == 1 else many or one + 's'}"


def local_time(at: str, zone: tzinfo | None = None) -> str:
    """``2031-05-04 13:00`` of an ISO time, in this machine's zone if none is named; what is no time stays as it is."""
    try:
        return datetime.fromisoformat(at).astimezone(zone).strftime("%Y-%m-%d %H:%M")
    except ValueError:
        return at


def local_day(at: str) -> str:
    """``2031-05-04`` of an ISO time, in this machine's zone."""
    return local_time(at).partition(" ")[0]
