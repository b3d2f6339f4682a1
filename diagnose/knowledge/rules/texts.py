"""Texts: all there, short enough for a small screen, and none of them twice."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

from diagnose.knowledge.checker import Book, Fault, Finding, rule, rule_of
from diagnose.knowledge.model import STEPS, Check, Instrument, Symptom, Task, Trees
from diagnose.knowledge.phrases import plain
from diagnose.knowledge.texts import Written, texts

# Characters that a screen of 80 by 24 shows of each, and how many answers stand below a question.
_MOST = {
    ("checks", "ask"): 160,
    ("checks", "measure"): 160,
    ("checks", "compute"): 160,
    ("checks", "answers"): 44,
    ("facts", "ask"): 160,
    ("facts", "answers"): 44,
    ("cautions", "text"): 130,
}
# Ways in which a complaint is said, in the trees' own language and in each other.
_LEAST_SAYS, _LEAST_SAYS_ABROAD = 15, 3
_MOST_TITLE, _MOST_HOW, _MOST_ANSWERS = 78, 420, 8
# What the interview has of 24 rows and 80 columns, beside title, status, keys and the likeliest causes.
_ROWS, _COLUMNS = 15, 78


@rule("too-long", "warning")
def too_long(book: Book) -> Iterator[Finding]:
    """A text that a screen of 80 by 24 cannot show at a glance.

    A title has 78 characters, a question 160, how it is done 420, an answer 44 and a caution 130; a question has at
    most 8 answers.

    Passes:
        lamp: {ask: Is the lamp lit?, answers: [lit, dark], …}
    Fails:
        lamp: {ask: Is it lit?, answers: [lit as it always is when nothing at all is the matter, dark], …}
    """
    for written in texts(book.trees):
        most = _most(written)
        if most and len(written.text) > most:
            what = written.field[0]
            wrong = f"'{what}' of '{written.id}' has {len(written.text)} characters, and the screen shows {most}."
            yield Finding(book.place(written.kind, written.id, *written.field), wrong, "Say it in fewer words.")
    for check in book.trees.checks.values():
        if len(check.answers) > _MOST_ANSWERS:
            wrong = f"'{check.id}' has {len(check.answers)} answers, and the screen shows {_MOST_ANSWERS}."
            mend = "Put together what leads to the same next step, or ask in two questions."
            yield Finding(book.place("checks", check.id, "answers"), wrong, mend)


def _most(written: Written) -> int:
    if written.reader == "caller":
        return 0
    if written.field[0] == "title":
        return _MOST_TITLE
    return _MOST_HOW if written.field[0] == "how" else _MOST.get((written.kind, written.field[0]), 0)


@rule_of(["checks"], "too-much-at-once", "warning")
def too_much_at_once(book: Book, check: Check) -> Iterator[Fault]:
    """A check's cautions, question, way of doing it and answers together are more than one screen of 80 by 24.

    The way of doing it would have to be scrolled to while the answers stay.

    Passes:
        lamp: {ask: Is the lamp lit?, how: Look for ten seconds., answers: [lit, dark], …}
    Fails:
        lamp: {ask: 160 characters, how: 420 characters, answers: [eight, of, them, …], cautions: [four, of, them, …]}
    """
    rows = panel_rows(book.trees, check)
    if rows > _ROWS and check.kind != "computed":
        wrong = f"'{check.id}' takes {rows} rows of the screen, and there are {_ROWS}."
        yield Fault(wrong, "Shorten 'how', the question or the answers.")


def panel_rows(trees: Trees, check: Check) -> int:
    """Rows that a check takes: cautions, question, facts, how, and its answers with "could not tell" in two columns."""
    named = dict.fromkeys([*check.cautions, *trees.access[check.access].cautions])
    cautions = [f"{trees.cautions[name].word}  {trees.cautions[name].text}" for name in named]
    heading, facts = f"LOOK OR ASK  {check.text}", "10 min · technician · powered, cover open"
    paragraphs = [*cautions, heading, facts, f"How  {check.how}" if check.how else ""]
    words = sum(len(textwrap.wrap(paragraph, _COLUMNS)) for paragraph in paragraphs)
    return words + ((len(check.answers) + 2) // 2 if check.answers else 2)


@rule_of(STEPS.values(), "missing-how", "warning")
def missing_how(_: Book, step: Task) -> Iterator[Fault]:
    """A check, remedy or proof does not say how it is done, so that only who knows it already can do it.

    Passes:
        lamp: {ask: Is the lamp lit?, how: Shade it with your hand and look for ten seconds., …}
    Fails:
        lamp: {ask: Is the lamp lit?, …}
    """
    if not step.how.strip() and not (isinstance(step, Check) and step.kind == "computed"):
        yield Fault(f"'{step.id}' does not say how it is done.", "Write 'how:'.")


@rule_of(["checks"], "missing-tool", "warning")
def missing_tool(_: Book, check: Check) -> Iterator[Fault]:
    """A reading names no instrument, or a reading with one names no tool to bring.

    Without an instrument a reading is taken to be exact.

    Passes:
        volts: {measure: Volts at the lamp, instrument: multimeter-volts-dc, tool: multimeter, …}
    Fails:
        volts: {measure: Volts at the lamp, …}
    """
    if check.kind != "reading":
        return
    if check.instrument is None:
        mend = "Write 'instrument:'; see shared/instruments.yaml."
        yield Fault(f"'{check.id}' names no instrument.", mend)
    elif not check.tool and check.instrument.id != "own" and _can_be_off(check.instrument):
        yield Fault(f"'{check.id}' names no tool to bring.", "Write 'tool:'.")


def _can_be_off(instrument: Instrument) -> bool:
    """What is counted or read off a plate is right or wrong, and takes nothing in the hand."""
    return instrument.percent > 0 or instrument.counts > 0 or instrument.absolute > 0


@rule_of(["symptoms"], "symptom-in-callers-words", "warning")
def symptom_in_callers_words(_: Book, symptom: Symptom) -> Iterator[Fault]:
    """A symptom is put to the caller in the trade's words, or only in one way.

    Passes:
        title: Will not close under its timer
        caller: It opens, and then it just stays open until somebody holds the button.
        plain: It used to close by itself after a while. Now it stands open.
    Fails:
        title: Will not close under its timer
        caller: Will not close under its timer
    """
    if not symptom.caller.strip() or plain(symptom.caller).strip(". ") == plain(symptom.title).strip(". "):
        wrong = f"'{symptom.id}' is put to the caller in the trade's words."
        mend = "Write 'caller:' as a person on the phone would say it."
        yield Fault(wrong, mend, ("caller",))
    if not symptom.plain.strip() or plain(symptom.plain) == plain(symptom.caller):
        wrong = f"'{symptom.id}' has one wording for the caller and no second."
        yield Fault(wrong, "Write 'plain:', for \"what do you mean?\".")


@rule("same-text", "warning")
def same_text(book: Book) -> Iterator[Finding]:
    """Two entries of a kind have the same title, or ask the same: whoever reads cannot tell which is meant.

    Passes:
        causes: {fuse: {title: Fuse blown, …}, breaker: {title: Breaker tripped, …}}
    Fails:
        causes: {fuse: {title: Fuse blown, …}, fuse-2: {title: Fuse blown, …}}
    """
    first: dict[tuple[str, str], Written] = {}
    for written in texts(book.trees):
        if written.field not in (("title",), ("ask",), ("measure",), ("compute",)):
            continue
        key = (written.kind, plain(written.text).rstrip(".?"))
        earlier = first.setdefault(key, written)
        if earlier is not written:
            wrong = f"'{written.id}' reads the same as '{earlier.id}'."
            mend = "Make one entry of the two, or say what is different."
            yield Finding(book.place(written.kind, written.id, *written.field), wrong, mend)


@rule("said-in-few-ways", "warning")
def said_in_few_ways(book: Book) -> Iterator[Finding]:
    """A complaint has fewer than 15 ways in which people say it, or fewer than 3 in a language that has such ways.

    Held where any complaint has such ways: one that has few is not found when somebody calls. Trees without any are
    searched by titles and callers' wordings alone.

    Passes:
        symptoms: {dark: {says: [it is dark, no light, lamp is out, …, twelve more], …}}
    Fails:
        symptoms: {dark: {says: [it is dark], …}}
    """
    trees = book.trees
    held = any(symptom.says for symptom in trees.symptoms.values())
    for symptom in trees.symptoms.values() if held else ():
        if len(symptom.says) < _LEAST_SAYS:
            wrong = f"'{symptom.id}' is said in {len(symptom.says)} ways, and wanted are {_LEAST_SAYS}."
            mend = "Write under 'says:' how people put it: short, blunt and misspelt ways too."
            yield Finding(book.place("symptoms", symptom.id, "says"), wrong, mend)
        for language in trees.sayings.values():
            ways = len(language.says.get(symptom.id, ()))
            if ways < _LEAST_SAYS_ABROAD:
                wrong = (
                    f"'{symptom.id}' is said in {ways} ways in '{language.id}', and wanted are {_LEAST_SAYS_ABROAD}."
                )
                place = book.place("sayings", language.id, "says", symptom.id)
                yield Finding(place, wrong, "Write how people put it in that language.")


@rule("said-of-two", "warning")
def said_of_two(book: Book) -> Iterator[Finding]:
    """One and the same wording is said of two complaints, or twice of one: it tells nothing.

    Passes:
        symptoms: {dark: {says: [it is dark], …}, dim: {says: [it is dim], …}}
    Fails:
        symptoms: {dark: {says: [it is dark], …}, dim: {says: [It is dark!], …}}
    """
    trees = book.trees
    ways: list[tuple[str, str, str, tuple[str, ...], tuple[str, ...]]]
    ways = [("symptoms", symptom.id, symptom.id, ("says",), symptom.says) for symptom in trees.symptoms.values()]
    for language in trees.sayings.values():
        ways += [("sayings", language.id, id, ("says", id), said) for id, said in language.says.items()]
    first: dict[tuple[str, str], str] = {}
    for kind, identity, symptom, field, said in ways:
        for number, way in enumerate(said):
            key = ("" if kind == "symptoms" else identity, plain(way).strip(" .?!"))
            if key in first:
                wrong = f"'{way}' is said of '{first[key]}' already."
                mend = "Say what is different, or leave it out."
                yield Finding(book.place(kind, identity, *field, number), wrong, mend)
            first.setdefault(key, symptom)
