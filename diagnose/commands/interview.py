"""The interview, line by line: the same call as on the screens, over one line at a time.

Each round shows the card of the next step. Whatever is typed is said to that card, or is a command; commands are words,
the same everywhere, and ``/word`` is always the command even where the word is an answer.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal

from diagnose.calls.answering import AnswerError
from diagnose.calls.call import Call, CallError
from diagnose.calls.document import text_of
from diagnose.calls.report import record
from diagnose.calls.state import Answer
from diagnose.calls.trend_words import PLAN, due_at
from diagnose.calls.words import Told
from diagnose.commands import telling
from diagnose.commands.choosing import by_number, pick
from diagnose.commands.console import Console
from diagnose.commands.lines import Command, Left, Moved
from diagnose.commands.talk import Talk
from diagnose.knowledge.model import Check
from diagnose.knowledge.words import about, minutes, percent, roughly
from diagnose.quantities.units import known
from diagnose.settings import Units
from diagnose.sitting import say
from diagnose.sitting.cards import LEAVE_REASON, Card
from diagnose.sitting.choices import Choice
from diagnose.sitting.course import NEEDS, RepairWay
from diagnose.sitting.places import NOT_AT_A_PLACE, where, where_named
from diagnose.sitting.sitting import Put, Sitting
from diagnose.sitting.telling import chain, history, way_so_far, why
from diagnose.sitting.view import TrailItem, not_known


class Interview(Talk):
    """One sitting at a call. ``run`` returns when the call is closed or left; ``EndOfInput`` ends it from outside."""

    def __init__(self, call: Call, call_id: str, console: Console, units: Units = "us") -> None:
        super().__init__(console, Sitting(call, units))
        self.call_id = call_id
        self.units = units
        self._put: Put | None = None
        self._card: Card | None = None
        self._doubted = ""
        self._told: tuple[str, ...] = ()
        self._commands = {
            "why": Command(self._why, "why this step, and what would change it"),
            "where": Command(self._where, "where what this step is about sits; 'where drum' shows anything else"),
            "cautions": Command(self._cautions, "the cautions of this step in full"),
            "likely": Command(self._likely, "the likely causes; 'likely 2' gives the evidence on the second"),
            "chain": Command(self._chain, "where along the chain of functions the fault lies"),
            "know": Command(self._know, "answer any other check that you can answer already"),
            "see": Command(self._see, "see for yourself what the caller told; 'see 2' takes the second"),
            "later": Command(self._later, "put this step off until there is nothing better to do"),
            "instead": Command(self._instead, "put this step off and choose another"),
            "back": Command(lambda _: self._do(say.Undo()), "undo the last thing said"),
            "answers": Command(self._answers, "what was answered, numbered"),
            "change": Command(self._change, "'change 3' corrects answer 3"),
            "again": Command(self._again, "'again 3' adds a second reading to answer 3"),
            "withdraw": Command(self._withdraw, "'withdraw 3' withdraws answer 3"),
            "note": Command(self._note, "'note some words' keeps them in the record"),
            "repair": Command(self._repairs, "go to a repair of your own choice, or look at those there are"),
            "proofs": Command(self._proofs, "what must pass before the door returns to service"),
            "state": Command(self._energy, "say which state the door is in"),
            "facts": Command(self._facts, "state or correct what is known of the door"),
            "door": Command(self._place, "say where the door is"),
            "symptoms": Command(self._symptoms, "state another complaint, or withdraw one"),
            "people": Command(self._people, "say who is at the door"),
            "map": Command(self._map, "the way so far: what each answer opened, and where it points"),
            "history": Command(lambda _: self._tell(history(self.call)), "every entry of this call"),
            "close": Command(self._close, "close the call, as returned to service or left out of it"),
            "copy": Command(self._copy_some, "the record to the clipboard; 'copy 3' copies answer 3 alone"),
            "quit": Command(self._quit, "stop here; the call stays open"),
            "help": Command(self._help, "this list"),
        }
        self._aliases = {
            "undo": "back",
            "skip": "know",
            "exit": "quit",
            "redo": "change",
            "tried": "repair",
            "energy": "state",
            "prove": "proofs",
        }

    # --- the rounds ----------------------------------------------------------------------------------------

    def run(self) -> None:
        """Put one step after the other until the call is closed or left."""
        try:
            if strange := not_known(self.call):
                self.console.say(strange)
            telling.phone(self.console, self.sitting.view().phone)
            for fact in self.sitting.first_facts():
                # What was said of one may settle another.
                if fact.id not in self.call.facts:
                    self._moving(lambda fact=fact: self._put_fact(fact))  # type: ignore[misc]
            while self._put_next():
                continue
        except Left:
            return

    def _put_next(self) -> bool:
        """Put the next step; false where that closed the call."""
        was_open = self.call.state.outcome is None
        self._name_told()
        self._put = self.sitting.put()
        self._moving(lambda: self._put_card(self._put.card if self._put else None))
        if not was_open or self.call.state.outcome is None:
            return True
        for text in due_at(self.call, self.units):
            self.console.say(f"{PLAN}: {text}")
        self.console.say(f"Closed: {self.call.state.outcome}. The record: diagnose report {self.call_id}")
        return False

    def _moving(self, doing: Callable[[], object]) -> None:
        try:
            doing()
        except Moved:
            self._doubt_aloud()

    # --- a card --------------------------------------------------------------------------------------------

    def _put_card(self, card: Card | None) -> None:
        if card is None:
            return
        if card.id == "no symptom":
            self.console.say()
            self._symptoms("")
        self._show(card)
        if card.kind == "check":
            self._ask_check(card, "new")
        while True:
            self._chosen(card, card.choices[self.one_of([choice.label for choice in card.choices])])

    def _show(self, card: Card, short: bool = False) -> None:
        """What is to be done and how long until it is, its cautions, then how."""
        self._card = card
        step = self._put.planned.step if self._put and not short else None
        left = ""
        if step is not None and step.expected_minutes_left > 0:
            low, high = step.interval
            spread = f" ({roughly(low)} to {roughly(high)})" if high - low >= 1 else ""
            left = f" To a proven door: {about(step.expected_minutes_left)}{spread}."
        telling.card(self.console, card, left)

    def _chosen(self, card: Card, choice: Choice) -> None:
        """Say what was chosen, with the words it asks for; or open what it leads to."""
        openers: dict[str, Callable[[], object]] = {
            "instead": lambda: self._instead(""),
            "known": lambda: self._know(""),
            "repairs": lambda: self._repairs(""),
            "door": lambda: self._symptoms(""),
            "keep": lambda: self.console.say(f"To keep its door: diagnose door from-call {self.call_id}"),
            "report": lambda: self.console.say(f"The record: diagnose report {self.call_id}"),
            "start": lambda: self._quit(""),
            "again": lambda: self._look_again(choice.name, "correction"),
        }
        if choice.opens:
            openers[choice.opens]()
            return
        text = self.console.ask(choice.asks).strip() if choice.asks else ""
        self._do(say.chosen(card, choice.name, text))

    def _ask_check(self, card: Card, mode: Literal["new", "again", "correction"], optional: bool = False) -> None:
        """The card stands; take its answer. ``optional``: an empty line leaves it."""
        check = self.call.trees.checks[card.id]
        answers = tuple(choice.label for choice in card.choices)
        if answers:
            self.console.choices(answers)
        else:
            self.console.say(_how_to_type(check))
        prompt = "Answer (Enter to leave it):" if optional else "Answer:"
        while (typed := self._line(prompt, answers, optional)).strip():
            try:
                doubt = self.call.understand(check.id, typed).doubt
            except AnswerError as error:
                self.console.say(str(error))
                continue
            while doubt:
                self.console.say(doubt)
                second = self._line(f'Type keep to keep "{typed.strip()}", or the answer again:', answers)
                if second.strip().casefold() in ("keep", typed.strip().casefold()):
                    break
                try:
                    typed, doubt = second, self.call.understand(check.id, second).doubt
                except AnswerError as error:
                    self.console.say(str(error))
            number = pick(typed, answers)
            text = typed if number is None else answers[number]
            self._do(say.Answer(check=check.id, text=text, mode=mode))

    def _look_again(self, check: str, mode: Literal["new", "again", "correction"]) -> None:
        """A check answered out of turn: its state and its cautions are said, and it may be left."""
        card = self.sitting.card_of_check(check)
        self._show(card, short=True)
        self._ask_check(card, mode, optional=True)

    # --- commands ------------------------------------------------------------------------------------------

    def _why(self, _: str) -> None:
        if self._put is not None:
            self._tell(why(self.call, self._put.planned, self.units))

    def _cautions(self, _: str) -> None:
        cautions = self._card.cautions if self._card is not None else ()
        self._say_cautions(cautions)
        if not cautions:
            self.console.say("There are none of this step's own.")

    def _where(self, rest: str) -> None:
        """What the step is about on a sketch of such a door, or what is named."""
        card, width = self._card, self.console.width
        if rest:
            told = where_named(self.call.trees, rest, self.call.facts, width)
        else:
            told = (where(self.call, card.kind, card.id, width) if card else []) or [Told("text", NOT_AT_A_PLACE)]
        self._tell(told)

    def _likely(self, rest: str) -> None:
        telling.likely(self.console, self.call, rest, self.units)

    def _chain(self, _: str) -> None:
        self._tell(chain(self.call))

    def _map(self, _: str) -> None:
        self._tell(way_so_far(self.call, self.sitting.view()))

    def _know(self, rest: str) -> None:
        """Every check that bears on the case, the most telling first; by its words any of them is found."""
        checks = [self.call.trees.checks[check] for check in self.sitting.bearing()]
        if not checks:
            self.console.say("There is no other check that would tell anything.")
            return
        prompt = "Which can you answer (number, or a word of it):"
        chosen = self._narrowed(prompt, [check.text for check in checks], rest)
        if chosen is not None:
            self._look_again(checks[chosen].id, "new")

    def _see(self, rest: str) -> None:
        """Ask again what a caller told."""
        rechecks = self.sitting.view().rechecks
        if not rechecks:
            self.console.say("Nothing that a caller told is worth looking at again.")
            return
        number = by_number(rest or "1", len(rechecks))
        if number is None:
            self.console.say(f"Type see and a number from 1 to {len(rechecks)}.")
        else:
            self._look_again(rechecks[number].check, "again")

    def _later(self, _: str) -> None:
        if self._put is not None:
            self._do(say.later_of(self._put.planned))

    def _instead(self, rest: str) -> None:
        """Put this step off, and choose what to do in its place."""
        planned = self._put.planned if self._put else None
        ways = self.sitting.instead(planned) if planned else ()
        if planned is None or not ways:
            self.console.say("There is no other step to choose here. Type know, repair, or close.")
            return
        texts = []
        for way in ways:
            remarks = ["repair"] if way.kind == "remedy" else []
            remarks += [way.extra] if way.extra else []
            texts.append(f"{way.title} ({'; '.join([*remarks, *way.remarks])})" if remarks else way.title)
        chosen = self._narrowed("Which instead (Enter to keep this step):", texts, rest)
        if chosen is not None:
            self._do(say.going_to(ways[chosen], planned))

    def _repairs(self, rest: str) -> None:
        ways = self.sitting.repairs()
        if any(way.needs for way in ways):
            self.console.say(NEEDS)
        chosen = self._narrowed("Which (number, or a word of it):", [repair_text(way) for way in ways], rest)
        if chosen is not None:
            self._do(say.GoTo(kind="remedy", step=ways[chosen].remedy))

    def _proofs(self, rest: str) -> None:
        needed = self.sitting.proofs()
        texts = [f"{name}: {told}" for _, name, told in needed]
        chosen = self._narrowed("Which to do now (Enter for none):", texts, rest, None)
        if chosen is not None:
            self._do(say.GoTo(kind="proof", step=needed[chosen][0]))

    def _answers(self, _: str) -> None:
        items = [item for item in self.sitting.view().trail if item.kind == "answer"]
        if not items:
            self.console.say("Nothing is answered yet.")
        self.console.choices([f"{i.title} {_as_said(i)}" for i in items])

    def _copy_some(self, rest: str) -> None:
        if not rest:
            self._copy(text_of(record(self.call, self.call_id)), "the record")
        elif (check := self._answered(rest)) is not None:
            item = next(item for item in self.sitting.view().trail if (item.kind, item.id) == ("answer", check.id))
            self._copy(f"{item.title} {_as_said(item)}", f"answer {rest}")

    def _answered(self, rest: str) -> Check | None:
        """The check of the answer of that number."""
        answers = [item for item in self.call.state.evidence if isinstance(item, Answer)]
        number = by_number(rest, len(answers))
        if number is None:
            if answers:
                self.console.say("Say which by its number, as in 'change 2'.")
            self._answers("")
            return None
        check = self.call.trees.checks.get(answers[number].check)
        if check is None:
            self.console.say("These trees do not know that check any more.")
        return check

    def _change(self, rest: str) -> None:
        check = self._answered(rest)
        if check is not None:
            self._look_again(check.id, "correction")

    def _again(self, rest: str) -> None:
        check = self._answered(rest)
        if check is not None and check.answers:
            self.console.say("Only readings are averaged. Type change to correct an answer.")
        elif check is not None:
            self._look_again(check.id, "again")

    def _withdraw(self, rest: str) -> None:
        check = self._answered(rest)
        if check is not None:
            self._do(say.TakeBack(check=check.id))

    def _note(self, rest: str) -> None:
        text = rest or self.console.ask("Note:").strip()
        try:
            self.console.say(self.sitting.do(say.Note(text=text)))
        except CallError as error:
            self.console.say(str(error))
        self._say_meanwhile()

    def _close(self, _: str) -> None:
        chosen = self.one_of(["returned to service", "left out of service"], "Close it as:", empty=True)
        if chosen == 0:
            self._do(say.Close(outcome="returned to service"))
        elif chosen == 1:
            self._do(say.Close(outcome="left out of service", reason=self.console.ask(LEAVE_REASON).strip()))

    # --- said unasked --------------------------------------------------------------------------------------

    def _name_told(self) -> None:
        """Say what a caller told that is worth seeing for oneself, once for each list of it."""
        rechecks = self.sitting.view().rechecks
        named = tuple(each.check for each in rechecks)
        if rechecks and named != self._told:
            telling.told(self.console, self.call.trees, rechecks)
        self._told = named

    def _doubt_aloud(self) -> None:
        """Say it once when answers sit ill together in a new way."""
        doubtful = self.sitting.view().doubtful
        if doubtful and doubtful != self._doubted:
            telling.doubts(self.console, self.call)
        self._doubted = doubtful


def _as_said(item: TrailItem) -> str:
    return item.said.replace("(told)", "(told; see for yourself)") if item.look_again else item.said


def repair_text(way: RepairWay) -> str:
    likely = "not suspected" if way.chance is None else percent(way.chance)
    told = [f"{likely}: {way.cause_title}", minutes(way.minutes), *way.remarks]
    return f"{way.title} ({'; '.join(told)})" + (f" {way.needs}" if way.needs else "")


def _how_to_type(check: Check) -> str:
    what = "the readings, parted by spaces or ;" if check.series == "yes" else "the reading"
    unit = known(check.unit) if check.unit else None
    taken = f" Without a unit it is taken as {unit.words}." if unit else ""
    open_circuit = ", OL for over range" if unit and unit.kind == "resistance" else ""
    return f"Type {what}{open_circuit}, or ? if you could not tell.{taken}"
