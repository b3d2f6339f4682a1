"""A phone call line by line: what to read out, what the caller says, and at the end the sheet.

Whatever is typed is an answer to what was asked, or a command; commands are words, the same everywhere. How the call
goes is ``sitting.phone``'s; here it is only read out and typed in.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterable, Sequence
from typing import NoReturn

from msgspec.structs import replace

from diagnose.calls.answering import AnswerError
from diagnose.calls.call import Call, CallError
from diagnose.calls.document import Document, text_of
from diagnose.calls.words import Told
from diagnose.cli import Session
from diagnose.commands.choosing import by_number, pick
from diagnose.commands.console import Console, EndOfInput
from diagnose.commands.lines import Command, Left, Lines, Moved, nothing
from diagnose.finding.glossary import is_name
from diagnose.knowledge.model import COULD_NOT_TELL, Danger, Symptom
from diagnose.screening.danger import Raised
from diagnose.screening.interview import Question
from diagnose.screening.paper import sheet_document
from diagnose.screening.sheet import Sheet
from diagnose.screening.spoken import Spoken
from diagnose.sitting import phone as course
from diagnose.sitting.handover import say_beforehand
from diagnose.sitting.phone import Move
from diagnose.sitting.places import NOT_AT_A_PLACE, where_named, where_to_look

_MOST_LISTED = 6
# Lines of a page that signs of danger do not have to themselves: what is read out before them, and the line typed in;
# and beside the same in other words.
_BESIDE_SIGNS, _BESIDE_MEANINGS = 6, 2


class _Back(Exception):
    """One line back, in a form of several."""


class PhoneLines(Lines):
    def __init__(self, session: Session, console: Console, by: str, language: str, van: str) -> None:
        super().__init__(console)
        self._session, self._by, self._van = session, by, van
        self._trees = session.trees
        self._spoken = Spoken(self._trees, language)
        self._phone = course.Phone(Call(self._trees))
        self._call_id = ""
        # The same in other words; and the lines of a form that were said, to which ``back`` goes first.
        self._meaning: Callable[[], None] | None = None
        self._form: list[str] = []
        # The question that stands, or stood last.
        self._asked: Question | None = None
        self._commands = {
            "what": Command(self._what, "read the same out in other words", nothing),
            "where": Command(
                self._where,
                "where the caller should look; 'where edge' shows you anything else",
                lambda words: not words or is_name(self._trees, words),
            ),
            "back": Command(self._back, "undo the last thing said, or go back to what was asked before", nothing),
            "danger": Command(lambda _: self._move(Move.SEE_SIGNS), "go through the signs of danger again", nothing),
            "note": Command(self._note, "'note some words' keeps what the caller said besides", bool),
            "language": Command(
                self._language,
                "'language es' reads out in it, 'language' goes back",
                lambda name: not name or name in self._trees.languages,
            ),
            "sheet": Command(
                lambda _: self._move(Move.ENOUGH),
                "ask no more, and draw up the sheet",
                lambda rest: not rest and bool(self._phone.call.state.symptoms),
            ),
            "end": Command(lambda why: self._move(course.End(why)), "'end some words': nobody will go, and why", bool),
            "copy": Command(self._copy_sheet, "the dispatch sheet, as it stands, to the clipboard", nothing),
            "quit": Command(self._quit, "stop here; the call stays open", nothing),
            "help": Command(self._help, "this list", nothing),
        }

    def run(self, kept: str, site: str, door: str) -> str:
        """Take the call, or go on with the ``kept`` one; gives back its id once it has a sheet."""
        store = self._session.store
        self._call_id = kept or store.begin()
        history = store.events(kept) if kept else None
        record = store.recorder(self._call_id)
        call = Call(self._trees, site=site, door=door, by=self._by, recorder=record, history=history)
        say_beforehand(call, site, door)
        self._phone = course.Phone(call, self._van)
        self.console.say(f"Call {self._call_id}, kept in {store.where}. Type help at any time.")
        try:
            self._read_out(self._phone.unread())
            while not isinstance(put := self._phone.put(), course.ShowSheet | course.Over):
                try:
                    self._put(put)
                except Moved:
                    continue
        except (Left, EndOfInput, KeyboardInterrupt):
            self.console.say(f"The call is open. Go on with it: diagnose call --call {self._call_id}")
            return ""
        if isinstance(put, course.Over):
            self.console.say(f"The call is over. {put.reason}".strip())
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
        say = self.console.say
        self.console.apart("DANGER FIRST. Read out:")
        say(self._spoken.phrase("phone.before-all"))
        signs = self._page_of(put.signs)
        self._list_signs(signs, put, self._spoken.danger)
        left = len(put.signs) - len(signs)
        known = {sign.id: put.there[sign.id] for sign in signs if sign.id in put.there}
        enter = "0 for none, Enter leaves them as they are" if len(known) == len(signs) else "Enter for none of these"
        prompt = f"Numbers of those that are so, {enter}{f' ({left} more follow)' if left else ''}:"
        while True:
            typed = self._said(prompt, lambda: self._list_signs(signs, put, self._spoken.danger_plain), empty=True)
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
        return 1 + (len(text) + len("(said: yes)")) // (self.console.width - 5)

    def _list_signs(self, signs: Sequence[Danger], put: course.AskSigns, words: Callable[[Danger], str]) -> None:
        self.console.choices([f"{words(sign)}{' (said: yes)' if put.there.get(sign.id) else ''}" for sign in signs])

    def _ask_place(self, put: course.AskPlace) -> None:
        asked = (
            ("Site", put.site),
            ("Door", put.door),
            ("Who calls", put.caller),
            ("Number to call back", put.number),
        )
        said: list[str] = []
        self._form = said
        while len(said) < len(asked):
            name, known = asked[len(said)]
            keep = f"Enter keeps {known}" if known else "Enter to leave it out"
            try:
                said.append(self._said(f"{name} ({keep}):", empty=True) or known)
            except _Back:
                said.pop()
        self._form = []
        self._do(course.SayPlace(*said))

    def _ask_complaint(self, put: course.AskComplaint) -> None:
        say = self.console.say
        self.console.apart(f"Ask: {self._spoken.phrase('phone.what-is-wrong')}")
        found, both = list(put.first), tuple[Symptom, ...]()
        self.console.choices([symptom.title for symptom in found])
        while True:
            typed = self._said("In the caller's words, or a number from the list:", lambda: self._put_plainly(found))
            listed = [*((symptom,) for symptom in found), *([both] if both else [])]
            if (number := by_number(typed, len(listed))) is not None:
                first, *others = (symptom.id for symptom in listed[number])
                return self._do(course.SayComplaint(first, tuple(others)))
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
            self.console.choices([*(symptom.title for symptom in found), *together])

    def _put_plainly(self, symptoms: Iterable[Symptom]) -> None:
        for symptom in symptoms:
            self.console.say(f"{self._spoken.symptom(symptom)} {self._spoken.symptom_plain(symptom)}")

    def _ask_question(self, question: Question, may_change: str) -> None:
        say, self._asked = self.console.say, question
        self.console.apart(f"Ask: {self._spoken.question(question)}", hang=5)
        answers = self._spoken.answers(question)
        if question.answers:
            self.console.choices(answers)
            say(f"  0. {self._spoken.phrase('phone.could-not-tell')}")
        say(f"It may change: {may_change}")
        prompt = "Numbers, with spaces between:" if question.many else "Answer:"
        while True:
            typed = self._said(prompt, lambda: say(self._spoken.question_plain(question)))
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
        say = self.console.say
        if put.trouble:
            say(put.trouble)
        sheet = self._phone.sheet()
        self._do(Move.HAND_OVER)
        say()
        # Sketches are for the paper.
        self.console.read(replace(self._paper(sheet), rest=()))
        say(f"Passed on. At the door: diagnose ask --call {self._call_id}")
        return self._call_id

    def _paper(self, sheet: Sheet) -> Document:
        return sheet_document(self._phone.call, sheet, self._call_id, self._spoken)

    # --- danger, lines and commands ------------------------------------------------------------------------

    def _do(self, act: course.Act) -> None:
        self._read_out(self._phone.do(act))

    def _read_out(self, raised: Sequence[Raised]) -> None:
        """Read out at once what to do about a danger, and have it ticked off as heard."""
        for each in raised:
            self.console.apart(f"*** {each.danger.word}: {each.danger.title}. Read out NOW:")
            self.console.say(f"*** {self._spoken.instruction(each.danger)}", hang=4)
            self.console.say()
        ids = tuple(each.danger.id for each in raised)
        while ids:
            typed = self._said("Enter once they have heard it, or no if they have not:", empty=True).casefold()
            if typed in ("", "yes"):
                self._do(course.Told(ids))
            if typed in ("", "yes", "no"):
                return

    def _said(self, prompt: str, meaning: Callable[[], None] | None = None, empty: bool = False) -> str:
        """A line that is no command; ``meaning`` says in other words what was read out."""
        self._meaning = meaning
        return self._line(prompt, empty=empty).strip()

    def _what(self, _: str) -> None:
        if self._meaning is None:
            self.console.say("There are no other words for this.")
        else:
            self._meaning()

    def _where(self, rest: str) -> None:
        """Where to look, to be read out; or what is named, for the person on the phone."""
        call, width = self._phone.call, self.console.width
        asked = self._asked.id if self._asked is not None and self._asked.kind == "check" else ""
        if rest:
            told = where_named(self._trees, rest, call.facts, width)
        else:
            told = (where_to_look(call, asked, self._spoken, width) if asked else []) or [Told("text", NOT_AT_A_PLACE)]
        self._tell(told)

    def _back(self, _: str) -> None:
        if self._form:
            raise _Back
        self._move(Move.TAKE_BACK)

    def _note(self, words: str) -> None:
        self._do(course.SayWords(words))

    def _language(self, language: str) -> None:
        self._spoken = Spoken(self._trees, language)
        self.console.say(f"Read out in {language or 'the language of the trees'} from here on.")

    def _copy_sheet(self, _: str) -> None:
        call = self._phone.call
        if call.state.symptoms:
            self._copy(text_of(self._paper(self._phone.sheet())), "the dispatch sheet")
        else:
            self.console.say("There is no sheet before a complaint.")

    def _move(self, act: course.Act) -> NoReturn:
        try:
            self._do(act)
        except CallError as error:
            self.console.say(str(error))
        else:
            if act is Move.TAKE_BACK:
                self.console.say("Gone back.")
        raise Moved
