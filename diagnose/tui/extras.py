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
    """``where`` is ``module:Class``; ``key`` opens it from the start."""

    key: str
    title: str
    hint: str
    where: str

    def make(self) -> Screen[Any]:
        module, _, name = self.where.partition(":")
        screen: Screen[Any] = getattr(import_module(module), name)()
        return screen


EXTRAS = (
    Extra("f2", "Practise on a door broken on purpose", "Practise", "diagnose.tui.screens.practice:PracticeScreen"),
    Extra("f3", "Take a phone call", "Phone call", "diagnose.tui.screens.phone:PhoneScreen"),
    Extra("f6", "Doors that are known", "", "diagnose.tui.screens.doors:Doors"),
    Extra("f5", "The shop's figures", "", "diagnose.tui.screens.shop:ShopPage"),
    Extra("f9", "What closed calls propose", "", "diagnose.tui.screens.learned:LearnedPage"),
)
