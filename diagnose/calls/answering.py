"""From what a person types to an answer: a choice of a question, or a reading in SI with its unit.

Nothing typed is thrown away: what cannot be understood comes back as a sentence that says what to type.
"""

from __future__ import annotations

import math
import re

import msgspec

from diagnose.knowledge.model import COULD_NOT_TELL, Check
from diagnose.knowledge.problems import did_you_mean

_CANNOT = {
    "could not tell",
    "cannot tell",
    "can't tell",
    "couldn't tell",
    "don't know",
    "dont know",
    "unknown",
    "?",
}
_MOST_CHARACTERS = 500


class AnswerError(ValueError):
    """The text is no answer to this check; ``str`` says what is wrong and what to type instead."""


class Understood(msgspec.Struct, frozen=True):
    """``value`` is a choice, "could not tell", or SI numbers in ``unit``. ``doubt`` asks about an unlikely number."""

    value: str | tuple[float, ...]
    unit: str = ""
    doubt: str = ""


def understand(check: Check, text: str) -> Understood:
    """What ``text`` answers. A number outside the plausible range is understood, and ``doubt`` says so.

    A question takes a choice as it is written, the start of only one, or its number in the list from 1.
    Raises ``AnswerError``.
    """
    typed = " ".join(text.split())
    if not typed:
        raise AnswerError("Nothing was typed. Type an answer, or '?' if you could not tell.")
    if len(typed) > _MOST_CHARACTERS:
        raise AnswerError(f"That is longer than {_MOST_CHARACTERS} characters. Type the answer alone.")
    if typed.casefold() in _CANNOT:
        return Understood(COULD_NOT_TELL)
    if check.kind == "computed":
        raise AnswerError("This is worked out from other readings. Answer those.")
    return _choice(check, typed) if check.answers else _reading(check, text)


def _choice(check: Check, typed: str) -> Understood:
    wanted = typed.casefold()
    by_name = {" ".join(answer.casefold().split()): answer for answer in check.answers}
    if wanted in by_name:
        return Understood(by_name[wanted])
    if wanted.isdecimal() and wanted.isascii():
        index = int(wanted)
        if 1 <= index <= len(check.answers):
            return Understood(check.answers[index - 1])
        if index == len(check.answers) + 1:
            return Understood(COULD_NOT_TELL)
    starts = [answer for name, answer in by_name.items() if name.startswith(wanted)]
    if len(starts) == 1:
        return Understood(starts[0])
    if len(starts) > 1:
        raise AnswerError(f"'{typed}' could be any of: {', '.join(starts)}. Type more of it.")
    raise AnswerError(f"'{typed}' is not among the answers. {did_you_mean(typed, [*check.answers, COULD_NOT_TELL])}")


def _reading(check: Check, text: str) -> Understood:
    from diagnose.quantities import QuantityError, canonical_unit, implausible, read_quantity, to_si

    parts = series_parts(text) if check.series == "yes" else [text]
    values: list[float] = []
    doubts: list[str] = []
    try:
        for part in parts:
            quantity = read_quantity(part, check.unit)
            values.append(quantity.value)
            low, high = (to_si(bound, check.unit) for bound in check.plausible or (-math.inf, math.inf))
            doubts.append(implausible(quantity, low, high, check.unit) or "")
    except QuantityError as error:
        raise AnswerError(str(error)) from None
    return Understood(tuple(values), canonical_unit(check.unit), next(filter(None, doubts), ""))


def series_parts(text: str) -> list[str]:
    """The readings of a series: parted by semicolons or new lines, or by spaces where only numbers stand."""
    parts = [part.strip() for part in re.split(r"[;\n]", text) if part.strip()]
    if len(parts) == 1:
        words = parts[0].split()
        if all(re.fullmatch(r"[-+−]?[\d.,]*\d", word) for word in words):
            return words
    return parts
