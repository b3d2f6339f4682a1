"""Numbers as they are typed: 3 1/8, 3-1/8, 5/16, 112.5, 112,5, 1,250.5, 1.250,5, 1e3. Exact, or refused.

A number that two people could read differently is refused, and both ways of writing it are named: ``1,250``
is ``1250`` or ``1.250``; ``31/8`` is more likely ``3 1/8`` with its space left out than 3 7/8.
"""

from __future__ import annotations

import functools
import re
from fractions import Fraction
from typing import NoReturn

from diagnose.quantities.refused import Refused, quoted

LARGEST, SMALLEST = 10**15, Fraction(1, 10**30)


@functools.cache
def _numeral() -> re.Pattern[str]:
    return re.compile(
        r"(?P<sign>[+-]?)(?:"
        r"(?P<whole>[0-9]+)[ -](?P<top>[0-9]+)/(?P<bottom>[0-9]+)"
        r"|(?P<only_top>[0-9]+)/(?P<only_bottom>[0-9]+)"
        r"|(?P<decimal>[0-9][0-9.,]*|[.,][0-9]+)(?P<exponent>[eE][+-]?[0-9]+)?)"
    )


def find_number(text: str) -> re.Match[str] | None:
    """The number a text starts with; ``number_in`` gives its value."""
    return _numeral().match(text)


def number_in(match: re.Match[str]) -> Fraction:
    """The value of a number found.

    Raises:
        Refused: it is no number, or two, or absurdly large or small.
    """
    if match["decimal"]:
        number = _decimal(match["decimal"], match["exponent"] or "")
    else:
        top, bottom = int(match["top"] or match["only_top"]), int(match["bottom"] or match["only_bottom"])
        if not 0 < top < bottom:
            _refuse_fraction(match)
        number = int(match["whole"] or 0) + Fraction(top, bottom)
    return of_sane_size(-number if match["sign"] == "-" else number, match.group())


def of_sane_size(number: Fraction, typed: str) -> Fraction:
    """The number, unless nothing at a door could measure so much or so little.

    Raises:
        Refused: it is above 10¹⁵, or below 10⁻³⁰ and not 0.
    """
    if abs(number) > LARGEST or 0 < abs(number) < SMALLEST:
        _refuse_size(typed)
    return number


def _decimal(digits: str, exponent: str) -> Fraction:
    """Digits with a decimal point or comma, and thousands set off where that is beyond doubt."""
    whole, _, rest = digits.partition(",")
    if re.fullmatch(r"[0-9]{1,3},[0-9]{3}", digits) and whole.strip("0"):
        raise Refused(f"{quoted(digits)} can be read two ways. Type {whole}{rest} or {whole}.{rest}.")
    if re.fullmatch(r"[0-9]*\.?[0-9]*", digits):
        plain = digits
    elif re.fullmatch(r"[0-9]*,[0-9]+", digits):
        plain = digits.replace(",", ".")
    elif re.fullmatch(r"[1-9][0-9]{0,2}(,[0-9]{3})+\.[0-9]+|[1-9][0-9]{0,2}(,[0-9]{3}){2,}", digits):
        plain = digits.replace(",", "")
    elif re.fullmatch(r"[1-9][0-9]{0,2}(\.[0-9]{3})+,[0-9]+|[1-9][0-9]{0,2}(\.[0-9]{3}){2,}", digits):
        plain = digits.replace(".", "").replace(",", ".")
    else:
        raise Refused(f"{quoted(digits)} is not one number. Type it with a single decimal point")
    # Before it is worked out: 1e999999999 would fill the memory.
    if exponent and (len(exponent) > 5 or abs(int(exponent[1:])) > 30):
        _refuse_size(digits + exponent)
    return Fraction(plain + exponent)


def _refuse_fraction(match: re.Match[str]) -> NoReturn:
    """31/8 may be 3 1/8 with the space left out; 5/4 is better written 1 1/4; 1/0 is nothing."""
    top, bottom = match["top"] or match["only_top"], int(match["bottom"] or match["only_bottom"])
    if not int(top) or not bottom:
        raise Refused(f"{quoted(match.group())} is no fraction. Type a whole number, or one and a fraction")
    whole, left = divmod(int(top), bottom)
    whole += int(match["whole"] or 0)
    mixed = f"{whole} {left}/{bottom}" if left else f"{whole}"
    if match["only_top"] and len(top) > 1 and 0 < int(top[-1]) < bottom:
        apart = f"{top[:-1]} {top[-1]}/{bottom}"
        raise Refused(f"{quoted(match.group())} can be read two ways. Type {apart} or {mixed}.")
    unit = match.string[match.end() :]
    raise Refused(
        f"The fraction in {quoted(match.group())} is not less than one. Type whole and fraction apart",
        f"{match['sign']}{mixed}{unit}",
    )


def _refuse_size(typed: str) -> NoReturn:
    raise Refused(f"{quoted(typed)} is far outside anything measured here. Type the number you read")
