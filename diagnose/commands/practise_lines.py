"""Practice line by line: the same door as on the screens, over one line at a time."""

from __future__ import annotations

from collections.abc import Sequence

from diagnose.calls.words import cautions_named, cautions_of
from diagnose.commands import telling as telling_lines
from diagnose.commands.choosing import by_number
from diagnose.commands.console import Console
from diagnose.commands.lines import Command, Left, Lines, Moved
from diagnose.finding.reading import trade_reader
from diagnose.knowledge.model import ANY, Check, Task
from diagnose.knowledge.words import minutes
from diagnose.practice import acts, telling
from diagnose.practice.debrief import Debrief
from diagnose.practice.debriefing import debriefing
from diagnose.practice.desk import Desk, Sitting
from diagnose.practice.scene import PracticeError
from diagnose.sitting.cards import LEAVE_REASON, Card
from diagnose.sitting.places import where_named
from diagnose.sitting.practised import ELSE, act_of, act_on, jobs_to_choose, practice_card


class PracticeLines(Lines):
    """One practice, a line at a time. Any word that is no command is searched for among checks and remedies."""

    def __init__(self, desk: Desk, sitting: Sitting, console: Console) -> None:
        super().__init__(console, trade_reader(sitting.session.trees))
        self.desk = desk
        self.sitting = sitting
        self.session = sitting.session
        self._commands = {
            "look": Command(self._look, "'look lamp' finds checks with that word, to look at or measure"),
            "repair": Command(self._repair, "'repair splice' finds repairs with that word"),
            "try": Command(lambda _: self._do(acts.TryDoor()), "try the door: is the complaint gone?"),
            "proofs": Command(self._prove, "what must pass before the door returns to service, and run one"),
            "state": Command(self._state, "bring the door into another state: power, covers, lock, held"),
            "call": Command(self._call, "have somebody come who may do what you may not"),
            "answers": Command(self._answers, "what you found so far, numbered"),
            "withdraw": Command(self._withdraw, "'withdraw 2' counts answer 2 no more"),
            "door": Command(self._door, "the door, the complaint, and what the caller said"),
            "where": Command(self._where, "'where drum' shows where a thing on the door sits, and what it looks like"),
            "hint": Command(self._hint, "what would be best next, for 3 points; 'hint likely' the suspects, for 2"),
            "close": Command(self._close, "end the call"),
            "copy": Command(self._copy_all, "what was done so far to the clipboard"),
            "quit": Command(self._quit, "stop here; go on at the next start"),
            "help": Command(self._help, "this list"),
        }
        self._aliases = {"measure": "look", "mend": "repair", "energy": "state", "found": "answers", "exit": "quit"}
        self._aliases["prove"] = "proofs"

    def _where(self, rest: str) -> None:
        facts = self.session.scenario.facts
        self._tell(where_named(self.session.trees, rest, facts, self.console.width))

    def run(self) -> Debrief | None:
        """Until the call is closed and debriefed; ``None`` where it was left."""
        self._door("")
        self.console.say("Type help for what can be done.")
        while not self.session.is_over:
            try:
                self._next()
            except Moved:
                continue
            except PracticeError as error:
                self.console.say(str(error))
            except Left:
                self.console.say("The practice stays open: 'diagnose practise' goes on with it.")
                return None
        found = self.desk.finish(self.sitting)
        self.console.read(debriefing(found))
        if self.sitting.id:
            again = f"diagnose practise --debrief {self.sitting.id} --export debriefing.html"
            self.console.say(f"To keep it: {again}")
        return found

    def _next(self) -> None:
        self._anything(self._line(f"{self._standing()} >"))

    def _standing(self) -> str:
        session = self.session
        state = session.trees.energy[session.energy].title
        money = f"{session.trees.costs.currency}{session.money:.0f}"
        return f"[{minutes(session.clock)}, {money}, {state}]"

    def _do(self, act: acts.AnyAct) -> None:
        for line in self.session.do(act).lines:
            self.console.say(f"! {line.text}" if line.kind == "hurt" else line.text, hang=2)
        raise Moved

    # --- steps ---------------------------------------------------------------------------------------------

    def _anything(self, words: str) -> None:
        self._choose([*self.session.checks(), *self.session.remedies()], words)

    def _look(self, words: str) -> None:
        self._choose(self.session.checks(), words)

    def _repair(self, words: str) -> None:
        self._choose(self.session.remedies(), words)

    def _prove(self, words: str) -> None:
        proofs = self.session.proofs()
        self._choose(proofs, words, [f"{proof.title}: {self.session.said_of(proof.id)}" for proof in proofs])

    def _choose(self, steps: Sequence[Task], words: str, texts: Sequence[str] = ()) -> None:
        """One step, by its id, or by words of it and then by number; an empty line chooses none."""
        if words in (named := {step.id: step for step in steps}):
            self._step(named[words])
            return
        chosen = self._narrowed("Which (number, or words; Enter for none):", texts or [_title(s) for s in steps], words)
        if chosen is not None:
            self._step(steps[chosen])

    def _step(self, step: Task) -> None:
        """The cautions first; then what it is, who does it and how; then whether to do it as the door stands."""
        trees = self.session.trees
        self._say_cautions(cautions_of(trees, step))
        self._tell(telling.step(trees, step))
        state = trees.energy[self.session.energy].title
        if self.one_of([f"Do it, the door as it stands: {state}", "Leave it"], empty=True) == 0:
            self._do(act_on(step))

    def _state(self, words: str) -> None:
        trees = self.session.trees
        states = [state for state in trees.energy.values() if state.id not in (ANY, self.session.energy)]
        chosen = self._of_few("Into which state:", [state.title for state in states], words)
        if chosen is None:
            return
        state = states[chosen]
        self._say_cautions(cautions_named(trees, state.cautions))
        if state.how:
            self.console.say(f"How: {state.how}")
        self._do(acts.Enter(energy=state.id))

    def _call(self, words: str) -> None:
        absent = self.session.absent()
        if not absent:
            self.console.say("Everybody is here.")
            return
        chosen = self._of_few("Who is to come:", list(absent.values()), words)
        if chosen is not None:
            self._do(acts.CallIn(person=list(absent)[chosen]))

    def _answers(self, _: str) -> None:
        found = self.session.found()
        if not found:
            self.console.say("Nothing yet.")
        self.console.choices(list(found.values()))

    def _withdraw(self, rest: str) -> None:
        found = self.session.found()
        if (number := by_number(rest, len(found))) is not None:
            self._do(acts.TakeBack(check=list(found)[number]))
        self.console.say("Type 'answers' to see their numbers, then for example: withdraw 2")

    def _copy_all(self, _: str) -> None:
        done = [f"{minutes(done.clock)}  {line.text}" for done in self.session.done for line in done.lines]
        self._copy("\n".join(done), "what was done so far")

    def _of_few(self, prompt: str, texts: Sequence[str], words: str) -> int | None:
        """Which of a few, by words of it or by number; those that begin with the words come first."""
        wanted = words.casefold()
        for fits in (str.startswith, str.__contains__):
            found = [n for n, text in enumerate(texts) if wanted and fits(text.casefold(), wanted)]
            if len(found) == 1:
                return found[0]
        return self.one_of(texts, prompt, empty=True)

    def _door(self, _: str) -> None:
        self._tell(telling.opening(self.session.trees, self.session.scenario))

    def _hint(self, rest: str) -> None:
        self._do(acts.AskFor(about="likely" if "likely".startswith(rest.casefold()) and rest else "next"))

    def _close(self, _: str) -> None:
        ends = self.session.call.ends
        ways = [ends.capitalize(), "Left out of service, or passed on", "Not yet"]
        chosen = self.one_of(ways, "Close it as:", empty=True)
        if chosen == 0:
            self._do(acts.Finish(outcome=ends))
        elif chosen == 1:
            self._do(acts.Finish(outcome="left out of service", reason=self.console.ask(LEAVE_REASON).strip()))

    def _help(self, rest: str) -> None:
        super()._help(rest)
        self.console.say("Any other word is looked for among the checks and repairs.")


class WalkLines(PracticeLines):
    """A walk that is practised: its cards, one after the other, and every word of practice beside them."""

    def __init__(self, desk: Desk, sitting: Sitting, console: Console) -> None:
        super().__init__(desk, sitting, console)
        self._card: Card | None = None
        self._commands = {
            "jobs": Command(self._jobs, "every job of the walk and how it came out, to go to one of them"),
            "cautions": Command(self._cautions, "the cautions of this step in full"),
            **self._commands,
        }

    def _next(self) -> None:
        card = self._card = practice_card(self.session)
        telling_lines.card(self.console, card)
        self.console.say(self._standing())
        choice = card.choices[self.one_of([choice.label for choice in card.choices])]
        if choice.opens == ELSE:
            self._help("")
            self._anything(self._line("Which:"))
            return
        text = self.console.ask(choice.asks).strip() if choice.asks else ""
        self._do(act_of(self.session, card, choice.name, text))

    def _jobs(self, words: str) -> None:
        jobs = jobs_to_choose(self.session)
        prompt = "Which comes next (number, or words; Enter for none):"
        chosen = self._narrowed(prompt, [text for _, text in jobs], words, None)
        if chosen is not None:
            self._do(jobs[chosen][0])

    def _cautions(self, _: str) -> None:
        self._say_cautions(self._card.cautions if self._card is not None else ())


def practice_lines(desk: Desk, sitting: Sitting, console: Console) -> PracticeLines:
    """A call or a walk to be practised, line by line."""
    return (WalkLines if sitting.session.scenario.walk else PracticeLines)(desk, sitting, console)


def _title(step: Task) -> str:
    return step.text if isinstance(step, Check) else str(getattr(step, "title", step.id))
