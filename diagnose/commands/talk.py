"""Line by line: what is typed is an answer or a command, and what is known of the door is stated and corrected."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from diagnose.calls.answering import AnswerError
from diagnose.calls.call import Call, CallError, WordNeeded
from diagnose.calls.words import fact_in_words, in_groups, title
from diagnose.commands.choosing import choose_symptom, pick
from diagnose.commands.console import Console
from diagnose.commands.lines import Lines, Moved
from diagnose.finding.reading import trade_reader
from diagnose.knowledge.model import Fact
from diagnose.sitting import say
from diagnose.sitting.sitting import Sitting


class Talk(Lines):
    def __init__(self, console: Console, sitting: Sitting) -> None:
        super().__init__(console, trade_reader(sitting.call.trees))
        self.sitting = sitting
        # Called where the door was named; gives back what is known of it in a sentence, or nothing.
        self.placed: Callable[[], str] = str

    @property
    def call(self) -> Call:
        return self.sitting.call

    def _do(self, act: say.AnyAct) -> None:
        """Do it, and go on; what is refused is said, and a word that is missing is asked for."""
        try:
            try:
                told = self.sitting.do(act)
            finally:
                self._say_meanwhile()
        except WordNeeded as wanted:
            self.console.say(str(wanted))
            choices = say.words_for(wanted)
            number = self.one_of([choice.label for choice in choices], "Which (Enter to leave it):", empty=True)
            if number is not None:
                choice = choices[number]
                self._do(say.with_word(act, choice.name, self.console.ask(choice.asks) if choice.asks else ""))
            return
        except (AnswerError, CallError) as error:
            self.console.say(str(error))
            return
        self.console.say(told)
        raise Moved

    def _say_meanwhile(self) -> None:
        if news := say.meanwhile(self.call):
            self.console.say("Meanwhile, in this call:")
            for sentence in news:
                self.console.say(f"  {sentence}.")

    def _energy(self, _: str) -> None:
        states = list(self.call.trees.energy.values())
        self.console.say(f"The door is taken to be in the state: {title(self.call.trees, 'energy', self.call.energy)}.")
        chosen = self.one_of([state.title for state in states], "Which is it in (Enter to leave it):", empty=True)
        if chosen is not None:
            self._say_cautions(self.call.trees.cautions[name] for name in states[chosen].cautions)
            self._do(say.Enter(energy=states[chosen].id))

    def _facts(self, rest: str) -> None:
        trees = self.call.trees
        facts = [trees.facts[fact] for group in in_groups(trees, trees.facts).values() for fact in group]
        known = self.call.state.facts
        facts = [fact for fact in facts if fact.id in known or fact.id not in self.call.facts]
        texts = [f"{fact.title}: {fact_in_words(trees, fact.id, known.get(fact.id))}" for fact in facts]
        chosen = self._narrowed("Which to state (Enter for none):", texts, rest, None)
        if chosen is not None:
            self._put_fact(facts[chosen])

    def _put_fact(self, fact: Fact) -> None:
        """Ask a fact and take it down; an empty line or ? leaves it unknown."""
        self.console.apart(fact.ask)
        if fact.how:
            self.console.say(f"How: {fact.how}")
        many = fact.many == "yes"
        texts = [*map(fact.called, fact.answers), *(["none of these"] if many else [])]
        self.console.choices(texts)
        prompt = "Numbers, parted by commas (? if not known):" if many else "Number (? if not known):"
        while (typed := self._line(prompt, (*fact.answers, *texts), empty=True).strip()) not in ("", "?"):
            found = several(typed, texts) or several(typed, fact.answers)
            if found and (many or len(found) == 1):
                values = tuple(fact.answers[i] for i in found if i < len(fact.answers))
                self._do(say.StateFact(fact=fact.id, value=values if many else values[0]))
                continue
            self.console.say(f"Type {'numbers' if many else 'a number'} from 1 to {len(texts)}.")

    def _place(self, _: str) -> None:
        state = self.call.state
        self.console.say(f"Site: {state.site or 'not named'}. Door: {state.door or 'not named'}.")
        site = self.console.ask("Site (Enter to leave it as it is):").strip() or state.site
        door = self.console.ask("Door (Enter to leave it as it is):").strip() or state.door
        if (site, door) != (state.site, state.door):
            try:
                self._do(say.StatePlace(site=site, door=door))
            finally:
                # A door that is known brings along what is known of it.
                if known := self.placed():
                    self.console.say(known)

    def _symptoms(self, rest: str) -> None:
        stated = self.call.state.symptoms
        for number, symptom in enumerate(stated, start=1):
            self.console.say(f"Complaint {number}: {title(self.call.trees, 'symptoms', symptom)}")
        chosen = choose_symptom(self.console, self.call.trees, self.call.state.facts, rest, self._any_line)
        if chosen is None:
            if not stated:
                self.console.say("Without a complaint there is nothing to look for. Type quit to stop here.")
                raise Moved
            return
        kept = tuple(each for each in stated if each != chosen)
        if kept != stated:
            self.console.say("That complaint was stated already; it is withdrawn.")
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
        found = several(typed, titles)
        if found:
            named = [people[i] for i in found]
            everyone = dict.fromkeys([*(p.id for p in named), *(i for p in named for i in p.includes)])
            self._do(say.StatePeople(people=tuple(everyone)))
        elif typed.strip():
            self.console.say(f"Type numbers from 1 to {len(people)}.")


def several(typed: str, texts: Sequence[str]) -> list[int]:
    """The numbers, from 0, of texts named by number or words and parted by commas; none where one is not understood."""
    found = [pick(part.strip(), texts) for part in typed.split(",") if part.strip()]
    return [] if None in found else list(dict.fromkeys(i for i in found if i is not None))
