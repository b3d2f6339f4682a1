"""Choosing one of many, by number or by words of it, line by line."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING

from diagnose.calls.words import title
from diagnose.commands.console import Console
from diagnose.knowledge.model import applies

if TYPE_CHECKING:
    from diagnose.knowledge.model import Symptom, Trees

MOST_LISTED = 12
Line = Callable[[str], str]


def pick(typed: str, texts: Sequence[str]) -> int | None:
    """Which text is meant: by its number from 1, by itself, or by the start of only one."""
    wanted = typed.strip().casefold()
    folded = [text.casefold() for text in texts]
    if wanted in folded:
        return folded.index(wanted)
    if wanted.isdecimal() and wanted.isascii():
        return int(wanted) - 1 if 1 <= int(wanted) <= len(texts) else None
    starts = [i for i, text in enumerate(folded) if wanted and text.startswith(wanted)]
    return starts[0] if len(starts) == 1 else None


def narrowed(
    console: Console, line: Line, prompt: str, texts: Sequence[str], words: str = "", listed: int | None = None
) -> int | None:
    """Which of many, by number or by words of it. The first ``listed`` are shown, words search all of them."""
    shown = list(range(len(texts)))[:listed]
    if not words:
        console.choices([texts[i] for i in shown])
        if len(shown) < len(texts):
            console.say(f"And {len(texts) - len(shown)} more: type a word of what you want.")
    while True:
        wanted = words.casefold().split()
        found = [i for i, text in enumerate(texts) if all(word in text.casefold() for word in wanted)]
        if words.isdecimal() and not shown:
            found = []
        if wanted and not found:
            # What is not on the screen is not chosen by number.
            shown = []
            console.say(f"None has '{words}' in it.")
        elif wanted and len(found) == 1:
            return found[0]
        elif wanted:
            shown = found
            console.choices([texts[i] for i in shown])
        words = line(prompt).strip()
        if not words:
            return None
        if words.isdecimal() and words.isascii() and 1 <= int(words) <= len(shown):
            return shown[int(words) - 1]


def choose_symptom(
    console: Console,
    trees: Trees,
    facts: Mapping[str, str | tuple[str, ...]],
    words: str,
    line: Line,
) -> str | None:
    """One symptom, by family and number or by words of its title; ``None`` for an empty line."""
    symptoms = [symptom for symptom in trees.symptoms.values() if applies(symptom.applies, facts)]
    if words in trees.symptoms:
        return words
    console.say("What does the door do wrong? Type a number, or a word or two of it.")
    shown: list[Symptom] = symptoms
    families = list(dict.fromkeys(symptom.family for symptom in symptoms))
    by_family = len(symptoms) > MOST_LISTED and len(families) > 1
    while True:
        wanted = words.casefold().split()
        if wanted:
            found = [s for s in symptoms if all(w in f"{s.id} {s.title} {s.caller}".casefold() for w in wanted)]
            if not found:
                console.say(f"No complaint has '{words}' in it.")
            elif len(found) == 1:
                return found[0].id
            else:
                shown, by_family = found, False
        if by_family:
            console.choices([title(trees, "families", family) for family in families])
        else:
            console.choices([symptom.title for symptom in shown])
        words = line("Complaint:").strip()
        if not words:
            return None
        listed = len(families) if by_family else len(shown)
        if words.isdecimal() and words.isascii() and 1 <= int(words) <= listed:
            if not by_family:
                return shown[int(words) - 1].id
            shown, by_family, words = [s for s in symptoms if s.family == families[int(words) - 1]], False, ""
            if len(shown) == 1:
                return shown[0].id
