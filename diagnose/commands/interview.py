"""The interview, line by line: the same call as on the screens, over one line at a time.

Each round shows the card of the next step. Whatever is typed is said to that card, or is a command; commands are words,
the same everywhere, and ``/word`` is always the command even where the word is an answer.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import TYPE_CHECKING, Literal

from diagnose.calls.answering import AnswerError
from diagnose.calls.call import Call, CallError, WordNeeded
from diagnose.calls.state import Answer
from diagnose.calls.words import in_words, title
from diagnose.commands import telling
from diagnose.commands.choosing import MOST_LISTED, choose_symptom, narrowed, pick
from diagnose.commands.console import Command, Console
from diagnose.knowledge.model import COULD_NOT_TELL, Caution, Check, Fact
from diagnose.knowledge.words import minutes, percent
from diagnose.sitting import say
from diagnose.sitting.cards import LEAVE_REASON, Card
from diagnose.sitting.choices import Choice
from diagnose.sitting.course import RepairWay
from diagnose.sitting.sitting import Put, Sitting
from diagnose.sitting.view import TrailItem

if TYPE_CHECKING:
    from diagnose.settings import Units

NOTICE = (
    "This program advises. Local codes, the maker's instructions and licensed practice come first. Never defeat, "
    "bridge or hold off a device that protects people: a door whose device is faulty is left out of service."
)
_PROVED = {True: "passed", False: "did not pass", None: "not done"}


class _Moved(Exception):
    """Something changed: the next step is to be looked up anew."""


class _Left(Exception):
    """The person wants to stop here, the call as it is."""


class Interview:
    """One sitting at a call. ``run`` returns when the call is closed or left; ``EndOfInput`` ends it from outside."""

    def __init__(self, call: Call, call_id: str, console: Console, units: Units = "us") -> None:
        self.call = call
        self.call_id = call_id
        self.console = console
        self.units = units
        self.sitting = Sitting(call, units)
        self._put: Put | None = None
        self._doubted = ""
        self._told: tuple[str, ...] = ()
        self._commands = {
            "why": Command(self._why, "why this step, and what would change it"),
            "likely": Command(self._likely, "the likely causes; 'likely 2' gives the evidence on the second"),
            "know": Command(self._know, "answer any other check that you can answer already"),
            "look": Command(self._look, "see for yourself what the caller told; 'look 2' takes the second"),
            "later": Command(self._later, "put this step off until there is nothing better to do"),
            "instead": Command(self._instead, "put this step off and choose another"),
            "back": Command(self._back, "take back the last thing said"),
            "answers": Command(self._answers, "what was answered, numbered"),
            "change": Command(self._change, "'change 3' corrects answer 3"),
            "again": Command(self._again, "'again 3' adds a second reading to answer 3"),
            "withdraw": Command(self._withdraw, "'withdraw 3' takes answer 3 back"),
            "note": Command(self._note, "'note some words' keeps them in the record"),
            "tried": Command(self._repairs, "go to a repair of your own choice, or look at those there are"),
            "proofs": Command(self._proofs, "what must pass before the door returns to service"),
            "energy": Command(self._energy, "say which state the door is in"),
            "facts": Command(self._facts, "state or correct what is known of the door"),
            "door": Command(self._place, "say where the door is"),
            "symptoms": Command(self._symptoms, "state another complaint, or take one back"),
            "people": Command(self._people, "say who is at the door"),
            "history": Command(self._history, "every entry of this call"),
            "close": Command(self._close, "close the call, as returned to service or left out of it"),
            "quit": Command(self._quit, "stop here; the call stays open"),
            "help": Command(self._help, "this list"),
        }
        self._aliases = {"undo": "back", "skip": "know", "exit": "quit", "redo": "change", "repair": "tried"}

    # --- the rounds ----------------------------------------------------------------------------------------

    def run(self) -> None:
        """Put one step after the other until the call is closed or left."""
        try:
            for fact in self.sitting.first_facts():
                self._moving(lambda fact=fact: self._put_fact(fact))  # type: ignore[misc]
            while self._put_next():
                continue
        except _Left:
            return

    def _put_next(self) -> bool:
        """Put the next step; false where that closed the call."""
        was_open = self.call.state.outcome is None
        self._name_told()
        self._put = self.sitting.put()
        self._moving(lambda: self._put_card(self._put.card if self._put else None))
        if not was_open or self.call.state.outcome is None:
            return True
        self.console.say(f"Closed: {self.call.state.outcome}. The record: diagnose report {self.call_id}")
        return False

    def _moving(self, doing: Callable[[], object]) -> None:
        try:
            doing()
        except _Moved:
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
            self._chosen(card, card.choices[self._one_of([choice.label for choice in card.choices])])

    def _show(self, card: Card, short: bool = False) -> None:
        """What is to be done, and how long until it is; its cautions, before anything that is to be done."""
        say = self.console.say
        step = self._put.planned.step if self._put and not short else None
        left = ""
        if step is not None and step.expected_minutes_left > 0:
            low, high = step.interval
            spread = f" ({low:.0f} to {high:.0f})" if high - low >= 1 else ""
            left = f" To a proven door: about {minutes(step.expected_minutes_left)}{spread}."
        say()
        say(f"{card.heading}: {(', '.join(card.facts) or card.title).rstrip('.')}.{left}")
        self._say_cautions(card.cautions)
        if card.facts:
            say(card.title)
        if card.kind == "stop" and card.why:
            say(card.why)
        for label, text in card.lines if card.kind != "energy" else ():
            say(f"{label}: {text}")
        if card.how:
            say(f"How: {card.how}")
        for label, text in card.lines if card.kind == "energy" else ():
            say(f"{label}: {text}")

    def _say_cautions(self, cautions: Iterable[Caution]) -> None:
        for caution in cautions:
            self.console.say(f"{caution.word}: {caution.text}")

    def _chosen(self, card: Card, choice: Choice) -> None:
        """Say what was chosen, with the words it asks for; or open what it leads to."""
        openers: dict[str, Callable[[], object]] = {
            "instead": lambda: self._instead(""),
            "known": lambda: self._know(""),
            "repairs": lambda: self._repairs(""),
            "door": lambda: self._symptoms(""),
            "report": lambda: self.console.say(f"The record: diagnose report {self.call_id}"),
            "start": lambda: self._quit(""),
            "again": lambda: self._look_again(choice.name, "correction"),
        }
        if choice.opens:
            openers[choice.opens]()
            return
        text = self.console.ask(choice.asks).strip() if choice.asks else ""
        self._do(say.chosen(card, choice.name, text))

    def _do(self, act: say.AnyAct) -> None:
        """Do it, and go on; what is refused is said, and a word that is missing is asked for."""
        try:
            told = self.sitting.do(act)
        except WordNeeded as wanted:
            self.console.say(str(wanted))
            choices = say.words_for(wanted)
            number = self._one_of([choice.label for choice in choices], "Which (Enter to leave it):", empty=True)
            if number is not None:
                choice = choices[number]
                self._do(say.with_word(act, choice.name, self.console.ask(choice.asks) if choice.asks else ""))
            return
        except (AnswerError, CallError) as error:
            self.console.say(str(error))
            return
        self.console.say(told)
        raise _Moved

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
            self._do(say.Answer(check=check.id, text=typed, mode=mode))

    def _look_again(self, check: str, mode: Literal["new", "again", "correction"]) -> None:
        """A check answered out of turn: its state and its cautions are said, and it may be left."""
        card = self.sitting.card_of_check(check)
        self._show(card, short=True)
        self._ask_check(card, mode, optional=True)

    # --- what is typed -------------------------------------------------------------------------------------

    def _line(self, prompt: str, exact: Sequence[str] = (), empty: bool = False) -> str:
        """A line that is no command. Commands are done here; one that changes the call raises ``_Moved``.

        ``exact`` are answers that win over a command of the same name; ``empty`` lets an empty line through.
        """
        answers = {answer.casefold() for answer in exact}
        while True:
            typed = self.console.ask(prompt)
            command, rest = self._as_command(typed, answers)
            if command is not None:
                command.do(rest)
            elif typed.strip() or empty:
                return typed
            else:
                self.console.say("Nothing was typed. Type help to see what can be.")

    def _any_line(self, prompt: str) -> str:
        return self._line(prompt, empty=True)

    def _as_command(self, typed: str, exact: set[str]) -> tuple[Command | None, str]:
        text = typed.strip()
        word, _, rest = text.lstrip("/").partition(" ")
        name = self._aliases.get(word.casefold(), word.casefold())
        if name not in self._commands or (text.casefold() in exact and not text.startswith("/")):
            return None, ""
        return self._commands[name], rest.strip()

    def _one_of(self, texts: Sequence[str], prompt: str = "Then:", empty: bool = False) -> int:
        """Which of a numbered list: its number, or the start of one; ``None`` for an empty line where that may be."""
        self.console.choices(texts)
        while True:
            typed = self._line(prompt, empty=empty).strip()
            chosen = pick(typed, texts)
            if chosen is not None or (empty and not typed):
                return chosen  # type: ignore[return-value]
            self.console.say(f"Type a number from 1 to {len(texts)}.")

    def _narrowed(self, prompt: str, texts: Sequence[str], words: str, listed: int | None = MOST_LISTED) -> int | None:
        return narrowed(self.console, self._any_line, prompt, texts, words, listed)

    # --- commands ------------------------------------------------------------------------------------------

    def _help(self, _: str) -> None:
        self.console.say("Type an answer, or one of these words (/word where the word is an answer too):")
        for name, command in self._commands.items():
            self.console.say(f"  {name}: {command.help}", hang=4)

    def _quit(self, _: str) -> None:
        raise _Left

    def _why(self, _: str) -> None:
        if self._put is not None:
            telling.why(self.console, self.call, self._put.planned.step)

    def _likely(self, rest: str) -> None:
        telling.likely(self.console, self.call, rest, self.units)

    def _history(self, _: str) -> None:
        telling.history(self.console, self.call)

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

    def _look(self, rest: str) -> None:
        """Ask again what a caller told."""
        rechecks = self.sitting.view().rechecks
        if not rechecks:
            self.console.say("Nothing that a caller told is worth looking at again.")
            return
        number = int(rest) if rest.isdecimal() else 1
        if not 1 <= number <= len(rechecks) or (rest and not rest.isdecimal()):
            self.console.say(f"Type look and a number from 1 to {len(rechecks)}.")
            return
        self._look_again(rechecks[number - 1].check, "again")

    def _later(self, _: str) -> None:
        if self._put is not None:
            self._do(say.later_of(self._put.planned))

    def _instead(self, rest: str) -> None:
        """Put this step off, and choose what to do in its place."""
        planned = self._put.planned if self._put else None
        ways = self.sitting.instead(planned) if planned else ()
        if planned is None or not ways:
            self.console.say("There is no other step to choose here. Type know, tried, or close.")
            return
        texts = []
        for way in ways:
            remarks = ["repair"] if way.kind == "remedy" else []
            remarks += [way.extra] if way.extra else []
            texts.append(f"{way.title} ({'; '.join([*remarks, *way.remarks])})" if remarks else way.title)
        chosen = self._narrowed("Which instead (Enter to keep this step):", texts, rest)
        if chosen is not None:
            way = ways[chosen]
            self._do(say.GoTo(kind=way.kind, step=way.id, instead_of=planned.goal))  # type: ignore[arg-type]

    def _repairs(self, rest: str) -> None:
        ways = self.sitting.repairs()
        chosen = self._narrowed("Which (number, or a word of it):", [_repair_text(way) for way in ways], rest)
        if chosen is not None:
            self._do(say.GoTo(kind="remedy", step=ways[chosen].remedy))

    def _proofs(self, rest: str) -> None:
        needed, results = self.call.needed_proofs(), self.call.state.proofs
        texts = [f"{proof.title}: {_PROVED[results.get(proof.id)]}" for proof in needed]
        chosen = self._narrowed("Which to do now (Enter for none):", texts, rest, None)
        if chosen is not None:
            self._do(say.GoTo(kind="proof", step=needed[chosen].id))

    def _back(self, _: str) -> None:
        self._do(say.Undo())

    def _numbered(self) -> list[Answer]:
        return [item for item in self.call.state.evidence if isinstance(item, Answer)]

    def _answers(self, _: str) -> None:
        items = [item for item in self.sitting.view().trail if item.kind == "answer"]
        if not items:
            self.console.say("Nothing is answered yet.")
        self.console.choices([f"{i.title} {_as_said(i)}" for i in items])

    def _answered(self, rest: str) -> Check | None:
        """The check of the answer of that number."""
        answers = self._numbered()
        if not (rest.isdecimal() and 1 <= int(rest) <= len(answers)):
            if answers:
                self.console.say("Say which by its number, as in 'change 2'.")
            self._answers("")
            return None
        check = self.call.trees.checks.get(answers[int(rest) - 1].check)
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

    def _energy(self, _: str) -> None:
        states = list(self.call.trees.energy.values())
        self.console.say(f"The door is taken to be in the state: {title(self.call.trees, 'energy', self.call.energy)}.")
        chosen = self._one_of([state.title for state in states], "Which is it in (Enter to leave it):", empty=True)
        if chosen is not None:
            self._say_cautions(self.call.trees.cautions[name] for name in states[chosen].cautions)
            self._do(say.Enter(energy=states[chosen].id))

    def _facts(self, rest: str) -> None:
        facts = list(self.call.trees.facts.values())
        known = self.call.state.facts
        texts = [f"{fact.title}: {_fact_words(known.get(fact.id))}" for fact in facts]
        chosen = self._narrowed("Which to state (Enter for none):", texts, rest, None)
        if chosen is not None:
            self._put_fact(facts[chosen])

    def _put_fact(self, fact: Fact) -> None:
        """Ask a fact and take it down; an empty line or ? leaves it unknown."""
        self.console.say()
        self.console.say(fact.ask)
        if fact.how:
            self.console.say(f"How: {fact.how}")
        many = fact.many == "yes"
        texts = [*fact.answers, *(["none of these"] if many else [])]
        self.console.choices(texts)
        prompt = "Numbers, parted by commas (? if not known):" if many else "Number (? if not known):"
        while (typed := self._line(prompt, fact.answers, empty=True).strip()) not in ("", "?"):
            found = _several(typed, texts)
            if found and (many or len(found) == 1):
                values = tuple(fact.answers[i] for i in found if i < len(fact.answers))
                self._do(say.StateFact(fact=fact.id, value=values if many else values[0]))
                return
            self.console.say(f"Type {'numbers' if many else 'a number'} from 1 to {len(texts)}.")

    def _place(self, _: str) -> None:
        state = self.call.state
        self.console.say(f"Site: {state.site or 'not named'}. Door: {state.door or 'not named'}.")
        site = self.console.ask("Site (Enter to leave it as it is):").strip() or state.site
        door = self.console.ask("Door (Enter to leave it as it is):").strip() or state.door
        if (site, door) != (state.site, state.door):
            self._do(say.StatePlace(site=site, door=door))

    def _symptoms(self, rest: str) -> None:
        stated = self.call.state.symptoms
        for number, symptom in enumerate(stated, start=1):
            self.console.say(f"Complaint {number}: {title(self.call.trees, 'symptoms', symptom)}")
        chosen = choose_symptom(self.console, self.call.trees, self.call.state.facts, rest, self._any_line)
        if chosen is None:
            if not stated:
                self.console.say("Without a complaint there is nothing to look for. Type quit to stop here.")
                raise _Moved
            return
        kept = tuple(each for each in stated if each != chosen)
        if kept != stated:
            self.console.say("That complaint was stated already; it is taken back.")
            if not kept:
                self.console.say("It is the only one, and stays.")
                return
        self._do(say.StateComplaints(symptoms=kept if kept != stated else (*stated, chosen)))

    def _people(self, _: str) -> None:
        people = list(self.call.trees.people.values())
        here = ", ".join(title(self.call.trees, "people", person) for person in self.call.state.people)
        self.console.say(f"At the door: {here}.")
        titles = [person.title for person in people]
        self.console.choices(titles)
        typed = self._line("Numbers of those who are, parted by commas (Enter to leave it):", empty=True)
        found = _several(typed, titles)
        if found:
            named = [people[i] for i in found]
            everyone = dict.fromkeys([*(p.id for p in named), *(i for p in named for i in p.includes)])
            self._do(say.StatePeople(people=tuple(everyone)))
        elif typed.strip():
            self.console.say(f"Type numbers from 1 to {len(people)}.")

    def _close(self, _: str) -> None:
        chosen = self._one_of(["returned to service", "left out of service"], "Close it as:", empty=True)
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
        doubtful = self.sitting.view().doubtful if self.call.state.outcome is None else ""
        if doubtful and doubtful != self._doubted:
            telling.doubts(self.console, self.call)
        self._doubted = doubtful


def _as_said(item: TrailItem) -> str:
    return item.said.replace("(told)", "(told; see for yourself)") if item.look_again else item.said


def _repair_text(way: RepairWay) -> str:
    likely = "not suspected" if way.chance is None else percent(way.chance)
    return f"{way.title} ({'; '.join([f'{likely}: {way.cause_title}', minutes(way.minutes), *way.remarks])})"


def _several(typed: str, texts: Sequence[str]) -> list[int]:
    """The numbers, from 0, of texts named by number or words and parted by commas; none where one is not understood."""
    found = [pick(part.strip(), texts) for part in typed.split(",") if part.strip()]
    return [] if None in found else list(dict.fromkeys(i for i in found if i is not None))


def _fact_words(value: str | tuple[str, ...] | None) -> str:
    if value is None:
        return "not known"
    return value if isinstance(value, str) else ", ".join(value) or "none of those asked"


def _how_to_type(check: Check) -> str:
    from diagnose.quantities.units import known

    what = "the readings, parted by spaces or ;" if check.series == "yes" else "the reading"
    taken = f" Without a unit it is taken as {known(check.unit).words}." if check.unit else ""
    return f"Type {what}, or ? if you could not tell.{taken}"


__all__ = ["COULD_NOT_TELL", "NOTICE", "Interview", "choose_symptom", "in_words", "pick"]
