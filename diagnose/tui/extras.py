"""Screens that other parts of the program add to the start: a line here is all it takes.

A screen is a ``Page`` (or any Textual ``Screen``) that is made without arguments; ``self.app`` is the
``DiagnoseApp`` with the trees, the settings and the store.
"""

from __future__ import annotations

from dataclasses import dataclass
from importlib import import_module
from typing import Any

from textual.screen import Screen


@dataclass(frozen=True)
class Extra:
    """``where`` is ``module:Class``; ``key`` opens it from the start; ``means`` is what the key means everywhere."""

    key: str
    title: str
    hint: str
    where: str
    means: str = ""

    def make(self) -> Screen[Any]:
        module, _, name = self.where.partition(":")
        screen: Screen[Any] = getattr(import_module(module), name)()
        return screen


_SCREENS = "diagnose.tui.screens"
EXTRAS = (
    Extra("f3", "Take a phone call", "Phone call", f"{_SCREENS}.phone:PhoneScreen", "phone"),
    Extra("ctrl+t", "Practise", "Practise", f"{_SCREENS}.practice:PracticeScreen", "practise"),
    Extra("ctrl+u", "Settings", "Settings", f"{_SCREENS}.settings:SettingsPage", "settings"),
    Extra("ctrl+o", "Doors", "Doors", f"{_SCREENS}.doors:Doors", "door"),
)
