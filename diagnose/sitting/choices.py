"""Something that can be said with one key. Light: the first screen loads it."""

from __future__ import annotations

from dataclasses import dataclass

# Answers beyond the ninth have capital letters, which no action uses.
KEYS = "123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
# The choice that a part of a repair is not there.
NOT_THERE = "not there"


@dataclass(frozen=True)
class Choice:
    """Something that can be said with one key.

    ``name`` tells ``say`` what was meant. ``asks`` is the question whose answer in words goes with it. Where ``opens``
    is not empty nothing is said yet: it names what a face shows next (``instead``, ``known``, ``repairs``, ``door``,
    ``report``, ``start``, or ``again``, the check ``name`` looked at again).
    """

    key: str
    label: str
    name: str
    asks: str = ""
    opens: str = ""
