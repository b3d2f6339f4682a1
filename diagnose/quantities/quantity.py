"""What a typed quantity becomes, and the error that says why it could not."""

from __future__ import annotations

import msgspec


class Quantity(msgspec.Struct, frozen=True):
    """One value as typed and as understood.

    ``value`` is in ``unit``, the canonical unit of its kind: the coherent SI unit where there is one. dBm,
    dB, % and AWG stay themselves (``3 %`` is 3, in %), and a count has the unit ``""``. A resistance above
    the meter's range ("OL") is ``math.inf``, which JSON cannot hold: store ``raw`` beside the value and read
    it again. ``raw`` is exactly what was typed.
    """

    value: float
    unit: str
    raw: str


class QuantityError(ValueError):
    """A text was not understood, wholly and in one way only.

    ``str(error)`` is one or two plain sentences: what is wrong and what to type. ``text`` is what was typed;
    ``suggestion``, where there is one, is a text that would be accepted in its place.
    """

    def __init__(self, message: str, text: str = "", suggestion: str | None = None) -> None:
        super().__init__(message)
        self.text = text
        self.suggestion = suggestion
