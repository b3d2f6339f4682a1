"""Choosing one of many, by number or by words of it, line by line."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence

from diagnose.calls.words import title
from diagnose.commands.console import Console
from diagnose.finding.complaints import families_by_use
from diagnose.finding.meant import meant
from diagnose.finding.reading import Reader
from diagnose.finding.search import Shelf, Text
from diagnose.knowledge.model import Symptom, Trees, applies

MOST_LISTED = 12
Line = Callable[[str], str]


def by_number(typed: str, of: int) -> int | None:
    """The place from 0 that a number from 1 names; ``None`` for what is no number of a list of so many."""
    return int(typed) - 1 if typed.isdecimal() and typed.isascii() and 1 <= int(typed) <= of else None


def pick(typed: str, texts: Sequence[str]) -> int | None:
    """Which text is meant: by its number from 1, by itself, or by the start of only one."""
    wanted = typed.strip().casefold()
    folded = [text.casefold() for text in texts]
    if wanted in folded:
        return folded.index(wanted)
    if wanted.isdecimal() and wanted.isascii():
        return by_number(wanted, len(texts))
    starts = [i for i, text in enumerate(folded) if wanted and text.startswith(wanted)]
    return starts[0] if len(starts) == 1 else None


def narrowed(
    console: Console,
    line: Line,
    prompt: str,
    texts: Sequence[str],
    words: str = "",
    listed: int | None = None,
    reader: Reader | None = None,
) -> int | None:
    """Which of many, by number or by words of it. The first ``listed`` are shown, words search all of them.

    The only one that has all the words as they were typed is taken; otherwise the best are shown to choose from.
    """
    shelf = Shelf([Text(text) for text in texts], reader or Reader())
    shown = list(range(len(texts)))[:listed]
    if not words:
        console.choices([texts[i] for i in shown])
        if len(shown) < len(texts):
            console.say(f"And {len(texts) - len(shown)} more: type a word of what you want.")
    while True:
        found = shelf.find(words) if words else []
        if words.isdecimal() and not shown:
            found = []
        exact = [i for i in found if all(word in texts[i].casefold() for word in words.casefold().split())]
        if words and not found:
            # What is not on the screen is not chosen by number.
            shown = []
            console.say(f"None is like '{words}'.")
        elif len(exact) == 1:
            return exact[0]
        elif words:
            shown = found[: listed or MOST_LISTED]
            console.choices([texts[i] for i in shown])
        words = line(prompt).strip()
        if not words:
            return None
        if (number := by_number(words, len(shown))) is not None:
            return shown[number]


def choose_symptom(
    console: Console,
    trees: Trees,
    facts: Mapping[str, str | tuple[str, ...]],
    words: str,
    line: Line,
) -> str | None:
    """One symptom, in anybody's words, or by family and number; ``None`` for an empty line.

    The commonest families are listed, all of them where somebody says ``list``.
    """
    every = [
        (title(trees, "families", family), group)
        for family, symptoms in families_by_use(trees).items()
        if (group := [symptom for symptom in symptoms if applies(symptom.applies, facts)])
    ]
    listed = _each(symptom for _, group in every for symptom in group)
    if len(listed) > MOST_LISTED and len(every) > 1:
        listed = every[:MOST_LISTED]
    if words in trees.symptoms:
        return words
    console.say("What does the door do wrong? Say it in your own words, or type a number.")
    while True:
        if words.casefold() == "list":
            listed, words = every, ""
        if words:
            found = meant(trees, words, facts)
            if found.sure and not found.both and not found.behind:
                console.say(f"Complaint: {found.alike[0].title}")
                return found.alike[0].id
            if found.all:
                listed = _each(found.all[:MOST_LISTED])
            else:
                console.say(f"No complaint is like '{words}'.")
        console.choices([text for text, _ in listed])
        if listed == every[:MOST_LISTED] != every:
            console.say(f"Type list for all {len(every)}.")
        words = line("Complaint:").strip()
        if not words:
            return None
        if (number := by_number(words, len(listed))) is not None:
            _, symptoms = listed[number]
            if len(symptoms) == 1:
                return symptoms[0].id
            listed, words = _each(symptoms), ""


def _each(symptoms: Iterable[Symptom]) -> list[tuple[str, list[Symptom]]]:
    return [(symptom.title, [symptom]) for symptom in symptoms]
