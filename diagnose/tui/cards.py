"""Choices by their older place."""

from diagnose.sitting.choices import KEYS, Choice

__all__ = ["KEYS", "Choice"]
