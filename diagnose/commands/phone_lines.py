"""The phone form, line by line: what to read out, what the caller says, and at the end the sheet.

Whatever is typed is an answer to what was asked, or a command; commands are words, the same everywhere.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING

from diagnose.calls.call import Call, CallError
from diagnose.commands.console import Console, EndOfInput
from diagnose.commands.interview import pick
from diagnose.knowledge.model import COULD_NOT_TELL, Danger
from diagnose.screening.complaint import match
from diagnose.screening.danger import Raised, dangers_now, note_dangers, to_ask
from diagnose.screening.handover import hand_over, take_back
from diagnose.screening.interview import Question, next_question, take
from diagnose.screening.needs import first_van
from diagnose.screening.paper import sheet_sections
from diagnose.screening.sheet import make_sheet
from diagnose.screening.spoken import Spoken

if TYPE_CHECKING:
    from diagnose.cli import Session

_MOST_LISTED = 6
_HELP = (
    ("what", "read the same out in other words"),
    ("back", "take the last answer back"),
    ("danger", "go through the signs of danger again"),
    ("note some words", "keep what the caller said besides"),
    ("language es", "read out in another language; 'language' alone goes back"),
    ("sheet", "ask no more, and draw up the sheet"),
    ("quit", "stop here; the call stays open"),
    ("help", "this list"),
)


class _Left(Exception):
    """The person at the keys stops here, the call as it is."""


class _Enough(Exception):
    """No more questions."""


class PhoneLines:
    """One phone call, talked through on ``console``."""

    def __init__(self, session: Session, console: Console, by: str, language: str, van: str) -> None:
        self._session, self._console, self._by = session, console, by
        self._trees = session.trees
        self._spoken = Spoken(self._trees, language)
        self._van = first_van(self._trees, van)
        self._told: set[str] = set()
        self._call = Call(self._trees)
        self._call_id = ""

    def run(self, kept: str, site: str, door: str) -> str:
        """Take the call, or go on with the ``kept`` one; gives back its id once it has a sheet."""
        store = self._session.store
        self._call_id = kept or store.begin()
        history = store.events(kept) if kept else None
        self._call = Call(
            self._trees, site=site, door=door, by=self._by, recorder=store.recorder(self._call_id), history=history
        )
        self._console.say(f"Call {self._call_id}, kept in {store.where}. Type help at any time.")
        try:
            self._danger_first()
            self._where()
            self._complaint()
            self._questions()
        except _Enough:
            pass
        except (_Left, EndOfInput, KeyboardInterrupt):
            self._console.say(f"The call is open. Go on with it: diagnose call --call {self._call_id}")
            return ""
        return self._finish()

    # --- the parts of a call -------------------------------------------------------------------------------

    def _danger_first(self) -> None:
        signs = [d for d in to_ask(self._trees, self._call.situation.facts) if d.id not in self._call.state.dangers]
        if not signs:
            self._warn(dangers_now(self._trees, self._call.events))
            return
        say = self._console.say
        say()
        say("FIRST, DANGER. Read out:")
        say(self._spoken.phrase("phone.before-all"))
        self._console.choices([self._spoken.danger(danger) for danger in signs])
        while True:
            typed = self._line("Numbers of those that are so, Enter for none:", self._danger_meaning(signs), empty=True)
            there = [pick(part, [d.id for d in signs]) for part in typed.replace(",", " ").split()]
            if None not in there:
                break
            say(f"Type numbers from 1 to {len(signs)}, or Enter where none is so.")
        for number, danger in enumerate(signs):
            self._call.danger(danger.id, "yes" if number in there else "no")
        self._warn(dangers_now(self._trees, self._call.events))

    def _where(self) -> None:
        state = self._call.state
        if state.site or state.door or state.symptoms:
            return
        site = self._line("Site (Enter to leave it out):", empty=True)
        door = self._line("Door (Enter to leave it out):", empty=True)
        if site or door:
            self._call.state_place(site, door)

    def _complaint(self) -> None:
        if self._call.state.symptoms:
            return
        self._console.say()
        self._console.say(f"Ask: {self._spoken.phrase('phone.what-is-wrong')}")
        # A danger that stands is a complaint already: those that it may be come first.
        raised = dangers_now(self._trees, self._call.events)
        found = [symptom for each in raised for symptom in each.danger.symptoms]
        self._console.choices([self._trees.symptoms[symptom].title for symptom in found])
        while True:
            typed = self._line("In the caller's words, or a number from the list:", self._meaning_of(found))
            if typed.isdecimal() and 1 <= int(typed) <= len(found):
                self._call.state_symptoms([found[int(typed) - 1]])
                self._warn(note_dangers(self._call))
                return
            if typed in self._trees.symptoms:
                found = [typed]
            else:
                # What was said is kept word for word, and a danger in it is heard at once.
                self._call.note(typed)
                heard = note_dangers(self._call)
                self._warn(heard)
                spoken_for = [symptom for each in heard for symptom in each.danger.symptoms]
                like = [each.symptom.id for each in match(self._trees, typed)[:_MOST_LISTED]]
                found = list(dict.fromkeys([*spoken_for, *like]))
            if not found:
                self._console.say("No complaint is like that. Type it in other words.")
            self._console.choices([self._trees.symptoms[symptom].title for symptom in found])

    def _questions(self) -> None:
        while (question := next_question(self._call, self._van)) is not None:
            self._put(question)

    def _put(self, question: Question) -> None:
        say = self._console.say
        say()
        say(f"Ask: {self._spoken.question(question)}", hang=5)
        answers = self._spoken.answers(question)
        if question.answers:
            self._console.choices(answers)
            say(f"  0. {self._spoken.phrase('phone.could-not-tell')}")
        while True:
            prompt = "Numbers, parted by spaces:" if question.many else "Answer:"
            typed = self._line(prompt, lambda: say(self._spoken.question_plain(question)))
            if typed == "\0":
                return
            answer = self._understood(question, answers, typed)
            if answer is None:
                say(f"Type a number from 0 to {len(answers)}." if question.answers else "Type a number, or 0.")
                continue
            try:
                self._warn(take(self._call, question, answer))
            except (CallError, ValueError) as error:
                say(str(error))
                continue
            return

    def _understood(self, question: Question, shown: list[str], typed: str) -> str | tuple[str, ...] | None:
        if typed in ("0", "?"):
            return COULD_NOT_TELL
        if not question.answers:
            return typed
        if not question.many:
            index = pick(typed, shown)
            index = pick(typed, question.answers) if index is None else index
            return None if index is None else question.answers[index]
        chosen = [pick(part, question.answers) for part in typed.replace(",", " ").split()]
        if not chosen or None in chosen:
            return None
        return tuple(answer for i, answer in enumerate(question.answers) if i in chosen)

    def _finish(self) -> str:
        sheet = make_sheet(self._call, self._van)
        hand_over(self._call, sheet)
        self._console.say()
        self._console.say(f"DISPATCH SHEET {self._call_id}")
        for heading, rows in sheet_sections(self._call, sheet):
            self._console.say(heading)
            for label, text in rows:
                self._console.say(f"  {label}: {text}" if label else f"  {text}", hang=4)
        if sheet.ready:
            self._console.say(f"Tell the caller: {self._spoken.phrase('phone.please-have-ready')}")
            self._console.choices([self._spoken.preparation(each) for each in sheet.ready])
        self._console.say(f"Handed over. At the door: diagnose ask --call {self._call_id}")
        return self._call_id

    # --- danger, lines and commands ------------------------------------------------------------------------

    def _warn(self, raised: Iterable[Raised]) -> None:
        """Read out at once what to do about a danger; each once a call."""
        for each in raised:
            if each.danger.id in self._told:
                continue
            self._told.add(each.danger.id)
            self._console.say()
            self._console.say(f"*** {each.danger.word}: {each.danger.title}. Read out NOW:")
            self._console.say(f"*** {self._spoken.instruction(each.danger)}", hang=4)
            self._console.say()

    def _line(self, prompt: str, meaning: Callable[[], None] | None = None, empty: bool = False) -> str:
        """A line that is no command. ``"\\0"`` says that something was undone: look at what comes next anew."""
        while True:
            typed = self._console.ask(prompt).strip()
            word, _, rest = typed.partition(" ")
            match word.casefold():
                case "help":
                    for name, means in _HELP:
                        self._console.say(f"  {name}: {means}", hang=4)
                case "what":
                    if meaning is None:
                        self._console.say("There are no other words for this.")
                    else:
                        meaning()
                case "note" if rest.strip():
                    self._call.note(rest.strip())
                    self._warn(note_dangers(self._call))
                case "language" if not rest or rest in self._trees.languages:
                    self._spoken = Spoken(self._trees, rest)
                    self._console.say(f"Read out in {rest or 'the language of the trees'} from here on.")
                case "danger" if not rest:
                    self._danger_again()
                case "sheet" if self._call.state.symptoms and not rest:
                    raise _Enough
                case "quit" if not rest:
                    raise _Left
                case "back" if not rest:
                    self._console.say("Taken back." if take_back(self._call) else "There is nothing to take back.")
                    return "\0"
                case _ if typed or empty:
                    return typed
                case _:
                    continue

    def _danger_again(self) -> None:
        signs = to_ask(self._trees, self._call.situation.facts)
        self._console.choices([self._spoken.danger(danger) for danger in signs])
        typed = self._console.ask("Numbers of those that are so (all others are not), Enter to leave it:").strip()
        there = [pick(part, [d.id for d in signs]) for part in typed.replace(",", " ").split()]
        if not there or None in there:
            return
        for number, danger in enumerate(signs):
            self._call.danger(danger.id, "yes" if number in there else "no")
            if number in there:
                self._told.discard(danger.id)
        self._warn(dangers_now(self._trees, self._call.events))

    def _danger_meaning(self, signs: list[Danger]) -> Callable[[], None]:
        return lambda: self._console.choices([self._spoken.danger_plain(danger) for danger in signs])

    def _meaning_of(self, symptoms: list[str]) -> Callable[[], None]:
        def say() -> None:
            for symptom in symptoms:
                entry = self._trees.symptoms[symptom]
                self._console.say(f"{self._spoken.symptom(entry)} {self._spoken.symptom_plain(entry)}")

        return say
