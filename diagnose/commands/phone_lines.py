"""A phone call line by line: what to read out, what the caller says, and at the end the sheet.

Whatever is typed is an answer to what was asked, or a command; commands are words, the same everywhere. How the call
goes is ``sitting.phone``'s; here it is only read out and typed in.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterable, Sequence
from typing import TYPE_CHECKING, NoReturn

from diagnose.calls.answering import AnswerError
from diagnose.calls.call import Call, CallError
from diagnose.commands.console import Console, EndOfInput
from diagnose.commands.interview import pick
from diagnose.knowledge.model import COULD_NOT_TELL, Danger, Symptom
from diagnose.screening.danger import Raised
from diagnose.screening.interview import Question
from diagnose.screening.paper import sheet_sections
from diagnose.screening.spoken import Spoken
from diagnose.sitting import phone as course

if TYPE_CHECKING:
    from diagnose.cli import Session

_MOST_LISTED = 6
# Lines of a page that signs of danger do not have to themselves: what is read out before them, and the line typed in;
# and beside the same in other words.
_BESIDE_SIGNS, _BESIDE_MEANINGS = 6, 2
_COMMANDS = (
    ("what", "read the same out in other words"),
    ("back", "take the last thing back, or go back to what was asked before"),
    ("danger", "go through the signs of danger again"),
    ("note some words", "keep what the caller said besides"),
    ("language es", "read out in another language; 'language' alone goes back"),
    ("sheet", "ask no more, and draw up the sheet"),
    ("end some words", "nobody will go: end the call, and say why"),
    ("quit", "stop here; the call stays open"),
    ("help", "this list"),
)


class _Left(Exception):
    """The person at the keys stops here, the call as it is."""


class _Moved(Exception):
    """A command changed where the call stands: what comes next is asked anew."""


class PhoneLines:
    """One phone call, talked through on ``console``."""

    def __init__(self, session: Session, console: Console, by: str, language: str, van: str) -> None:
        self._session, self._console, self._by, self._van = session, console, by, van
        self._trees = session.trees
        self._spoken = Spoken(self._trees, language)
        self._phone = course.Phone(Call(self._trees))
        self._call_id = ""

    def run(self, kept: str, site: str, door: str) -> str:
        """Take the call, or go on with the ``kept`` one; gives back its id once it has a sheet."""
        store = self._session.store
        self._call_id = kept or store.begin()
        history = store.events(kept) if kept else None
        record = store.recorder(self._call_id)
        call = Call(self._trees, site=site, door=door, by=self._by, recorder=record, history=history)
        self._phone = course.Phone(call, self._van)
        self._console.say(f"Call {self._call_id}, kept in {store.where}. Type help at any time.")
        try:
            self._read_out(self._phone.unread())
            while not isinstance(put := self._phone.put(), course.ShowSheet | course.Over):
                try:
                    self._put(put)
                except _Moved:
                    continue
        except (_Left, EndOfInput, KeyboardInterrupt):
            self._console.say(f"The call is open. Go on with it: diagnose call --call {self._call_id}")
            return ""
        if isinstance(put, course.Over):
            self._console.say(f"The call is over. {put.reason}".strip())
            return ""
        return self._finish(put)

    def _put(self, put: course.Put) -> None:
        match put:
            case course.AskSigns():
                self._ask_signs(put)
            case course.AskPlace():
                self._ask_place(put)
            case course.AskComplaint():
                self._ask_complaint(put)
            case course.AskQuestion(question, may_change):
                self._ask_question(question, may_change)

    # --- the parts of a call -------------------------------------------------------------------------------

    def _ask_signs(self, put: course.AskSigns) -> None:
        """As many signs as stand on one page, in either wording; the others follow."""
        say = self._console.say
        say()
        say("DANGER FIRST. Read out:")
        say(self._spoken.phrase("phone.before-all"))
        signs = self._page_of(put.signs)
        self._list_signs(signs, put, self._spoken.danger)
        left = len(put.signs) - len(signs)
        known = {sign.id: put.there[sign.id] for sign in signs if sign.id in put.there}
        enter = "0 for none, Enter leaves them as they are" if len(known) == len(signs) else "Enter for none of these"
        prompt = f"Numbers of those that are so, {enter}{f' ({left} more follow)' if left else ''}:"
        while True:
            typed = self._line(prompt, lambda: self._list_signs(signs, put, self._spoken.danger_plain), empty=True)
            if not typed and len(known) == len(signs):
                return self._do(course.SaySigns(known))
            parts = [] if typed == "0" else typed.replace(",", " ").split()
            there = [pick(part, [sign.id for sign in signs]) for part in parts]
            if None not in there:
                return self._do(course.SaySigns({sign.id: number in there for number, sign in enumerate(signs)}))
            say(f"Type numbers from 1 to {len(signs)}, or Enter where none is so.")

    def _page_of(self, signs: Sequence[Danger]) -> Sequence[Danger]:
        """As many of the first signs as the terminal shows at once, one at least."""
        rows = shutil.get_terminal_size((80, 24)).lines
        count = short = plain = 0
        for sign in signs:
            short += self._rows(self._spoken.danger(sign))
            plain += self._rows(self._spoken.danger_plain(sign))
            if count and (short > rows - _BESIDE_SIGNS or plain > rows - _BESIDE_MEANINGS):
                break
            count += 1
        return signs[:count]

    def _rows(self, text: str) -> int:
        return 1 + (len(text) + len("(said: yes)")) // (self._console.width - 5)

    def _list_signs(self, signs: Sequence[Danger], put: course.AskSigns, words: Callable[[Danger], str]) -> None:
        self._console.choices([f"{words(sign)}{' (said: yes)' if put.there.get(sign.id) else ''}" for sign in signs])

    def _ask_place(self, put: course.AskPlace) -> None:
        asked = (
            ("Site", put.site),
            ("Door", put.door),
            ("Who calls", put.caller),
            ("Number to call back", put.number),
        )
        said: list[str] = []
        while len(said) < len(asked):
            name, known = asked[len(said)]
            keep = f"Enter keeps {known}" if known else "Enter to leave it out"
            try:
                said.append(self._line(f"{name} ({keep}):", empty=True, back=not said) or known)
            except _Back:
                said.pop()
        self._do(course.SayPlace(*said))

    def _ask_complaint(self, put: course.AskComplaint) -> None:
        say = self._console.say
        say()
        say(f"Ask: {self._spoken.phrase('phone.what-is-wrong')}")
        found, both = list(put.first), tuple[Symptom, ...]()
        self._console.choices([symptom.title for symptom in found])
        while True:
            typed = self._line("In the caller's words, or a number from the list:", lambda: self._put_plainly(found))
            if typed.isdecimal() and 1 <= int(typed) <= len(found):
                return self._do(course.SayComplaint(found[int(typed) - 1].id))
            if both and typed.isdecimal() and int(typed) == len(found) + 1:
                return self._do(course.SayComplaint(both[0].id, tuple(each.id for each in both[1:])))
            both = ()
            if typed in self._trees.symptoms:
                found[:] = [self._trees.symptoms[typed]]
            else:
                if self._phone.is_said(typed):
                    # What was said is kept word for word, and a danger in it is heard at once.
                    self._do(course.SayWords(typed))
                both = self._phone.both(typed)
                found[:] = self._phone.complaints(typed)[:_MOST_LISTED]
            if not found:
                say("No complaint is like that. Type it in other words.")
            together = [" + ".join(symptom.title for symptom in both)] if both else []
            self._console.choices([*(symptom.title for symptom in found), *together])

    def _put_plainly(self, symptoms: Iterable[Symptom]) -> None:
        for symptom in symptoms:
            self._console.say(f"{self._spoken.symptom(symptom)} {self._spoken.symptom_plain(symptom)}")

    def _ask_question(self, question: Question, may_change: str) -> None:
        say = self._console.say
        say()
        say(f"Ask: {self._spoken.question(question)}", hang=5)
        answers = self._spoken.answers(question)
        if question.answers:
            self._console.choices(answers)
            say(f"  0. {self._spoken.phrase('phone.could-not-tell')}")
        say(f"It may change: {may_change}")
        prompt = "Numbers, with spaces between:" if question.many else "Answer:"
        while True:
            typed = self._line(prompt, lambda: say(self._spoken.question_plain(question)))
            answer = self._understood(question, answers, typed)
            if answer is None:
                say(f"Type a number from 0 to {len(answers)}." if question.answers else "Type a number, or 0.")
                continue
            try:
                return self._do(course.SayAnswer(question, answer))
            except (AnswerError, CallError, ValueError) as error:
                say(str(error))

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

    def _finish(self, put: course.ShowSheet) -> str:
        say = self._console.say
        if put.trouble:
            say(put.trouble)
        sheet = self._phone.sheet()
        self._do(course.HandOver())
        say()
        say(f"DISPATCH SHEET {self._call_id}")
        for heading, rows in sheet_sections(self._phone.call, sheet):
            say(heading)
            for label, text in rows:
                say(f"  {label}: {text}" if label else f"  {text}", hang=4)
        if sheet.ready:
            say(f"Tell the caller: {self._spoken.phrase('phone.please-have-ready')}")
            self._console.choices([self._spoken.preparation(each) for each in sheet.ready])
        say(f"Handed over. At the door: diagnose ask --call {self._call_id}")
        return self._call_id

    # --- danger, lines and commands ------------------------------------------------------------------------

    def _do(self, act: course.Act) -> None:
        self._read_out(self._phone.do(act))

    def _read_out(self, raised: Iterable[Raised]) -> None:
        """Read out at once what to do about a danger."""
        for each in raised:
            self._console.say()
            self._console.say(f"*** {each.danger.word}: {each.danger.title}. Read out NOW:")
            self._console.say(f"*** {self._spoken.instruction(each.danger)}", hang=4)
            self._console.say()

    def _line(
        self, prompt: str, meaning: Callable[[], None] | None = None, empty: bool = False, back: bool = True
    ) -> str:
        """A line that is no command. A command that moves the call raises ``_Moved``.

        ``back`` is whether ``back`` is the call's; where it is the caller's own, ``_Back`` is raised.
        """
        while True:
            typed = self._console.ask(prompt).strip()
            word, _, rest = typed.partition(" ")
            rest = rest.strip()
            match word.casefold():
                case "help" if not rest:
                    for name, means in _COMMANDS:
                        self._console.say(f"  {name}: {means}", hang=4)
                case "what" if not rest:
                    if meaning is None:
                        self._console.say("There are no other words for this.")
                    else:
                        meaning()
                case "note" if rest:
                    self._do(course.SayWords(rest))
                case "language" if not rest or rest in self._trees.languages:
                    self._spoken = Spoken(self._trees, rest)
                    self._console.say(f"Read out in {rest or 'the language of the trees'} from here on.")
                case "danger" if not rest:
                    self._move(course.SeeSigns())
                case "sheet" if not rest and self._phone.call.state.symptoms:
                    self._move(course.Enough())
                case "end" if rest:
                    self._move(course.End(rest))
                case "quit" if not rest:
                    raise _Left
                case "back" if not rest:
                    if not back:
                        raise _Back
                    self._move(course.TakeBack())
                case _ if typed or empty:
                    return typed
                case _:
                    continue

    def _move(self, act: course.Act) -> NoReturn:
        try:
            self._do(act)
        except CallError as error:
            self._console.say(str(error))
        else:
            if isinstance(act, course.TakeBack):
                self._console.say("Gone back.")
        raise _Moved


class _Back(Exception):
    """One line back, in a form of several."""
