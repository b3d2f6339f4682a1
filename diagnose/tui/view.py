"""Titles by their older place."""

from diagnose.sitting.view import symptom_title

__all__ = ["symptom_title"]
