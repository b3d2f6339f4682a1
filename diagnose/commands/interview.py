"""The interview, line by line: the same call as on the screens, over one line at a time.

Each round asks the call for its next step and puts it. Whatever is typed is an answer to what was put, or a command;
commands are words, the same everywhere, and ``/word`` is always the command even where the word is an answer.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING, Literal, NoReturn

from diagnose.calls.answering import AnswerError
from diagnose.calls.call import NOTHING_FITS, PROOF_FAILED, RETURN, Call, CallError, Step
from diagnose.calls.events import Outcome
from diagnose.calls.state import Answer, standing
from diagnose.calls.verdict import suspects_now
from diagnose.calls.words import (
    absent_from,
    cautions_of,
    event_in_words,
    in_words,
    percent,
    remarks_on,
    step_title,
    title,
    with_absent,
)
from diagnose.commands.console import Command, Console
from diagnose.knowledge.model import (
    COULD_NOT_TELL,
    Check,
    Fact,
    Proof,
    Remedy,
    Symptom,
    applies,
    is_powered,
    power_state,
)
from diagnose.reasoning import explain
from diagnose.screening.handover import still_to_see

if TYPE_CHECKING:
    from diagnose.knowledge import model
    from diagnose.settings import Units

NOTICE = (
    "This program advises. Local codes, the maker's instructions and licensed practice come first. Never defeat, "
    "bridge or hold off a device that protects people: a door whose device is faulty is left out of service."
)
_MOST_LISTED = 12

Mode = Literal["new", "again", "correction"]


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
        self._odd: tuple[str, ...] = ()
        self._told: tuple[str, ...] = ()
        self._step = Step("stop", "", "", 0.0, 0.0)
        self._commands = {
            "why": Command(self._why, "why this step, and what would change it"),
            "likely": Command(self._likely, "the likely causes; 'likely 2' gives the evidence on the second"),
            "know": Command(self._know, "answer any other check that you can answer already"),
            "look": Command(self._look, "see for yourself what the caller told; 'look 2' takes the second"),
            "later": Command(self._later, "put this step off until there is nothing better to do"),
            "back": Command(self._back, "undo the last entry"),
            "answers": Command(self._answers, "what was answered, numbered"),
            "change": Command(self._change, "'change 3' corrects answer 3"),
            "again": Command(self._again, "'again 3' adds a second reading to answer 3"),
            "withdraw": Command(self._withdraw, "'withdraw 3' takes answer 3 back"),
            "note": Command(self._note, "'note some words' keeps them in the record"),
            "tried": Command(self._tried, "record a remedy of your own choice, or look at those there are"),
            "proofs": Command(self._proofs, "what must pass before the door returns to service"),
            "energy": Command(self._energy, "say which state the door is in"),
            "facts": Command(self._facts, "state or correct what is known of the door"),
            "symptoms": Command(self._symptoms, "state another complaint, or take one back"),
            "people": Command(self._people, "say who is at the door"),
            "history": Command(self._history, "every entry of this call"),
            "close": Command(self._close, "close the call, as returned to service or left out of it"),
            "quit": Command(self._quit, "stop here; the call stays open"),
            "help": Command(self._help, "this list"),
        }
        self._aliases = {"undo": "back", "skip": "know", "exit": "quit", "redo": "change"}

    # --- the rounds ----------------------------------------------------------------------------------------

    def run(self) -> None:
        """Put one step after the other until the call is closed or left."""
        try:
            self._ask_first_facts()
            self._name_told()
            while self._put_next():
                continue
        except _Left:
            return

    def _put_next(self) -> bool:
        """Put the next step; false where that closed the call."""
        self._step = step = self.call.next_step()
        put = {
            "check": self._put_check,
            "remedy": self._put_remedy,
            "proof": self._put_proof,
            "energy": self._put_energy,
            "stop": self._put_stop,
        }[step.kind]
        try:
            put(step)
        except _Moved:
            self._doubt_aloud()
            self._name_told()
        if step.id == "closed" or self.call.state.outcome is None:
            return True
        self.console.say(f"Closed: {self.call.state.outcome}. The record: diagnose report {self.call_id}")
        return False

    def _ask_first_facts(self) -> None:
        state = self.call.state
        if state.evidence or state.outcome is not None:
            return
        for fact in self.call.trees.facts.values():
            if fact.first == "yes" and fact.id not in state.facts:
                try:
                    self._put_fact(fact)
                except _Moved:
                    continue

    # --- steps ---------------------------------------------------------------------------------------------

    def _put_check(self, step: Step) -> None:
        check = self.call.trees.checks[step.id]
        self._head("Check", check, step)
        if step.goal not in ("", step.id):
            self.console.say(f"It comes before: {self.call.trees.checks[step.goal].text}")
        self._ask_check(check, "new")

    def _ask_check(self, check: Check, mode: Mode, optional: bool = False) -> None:
        """The cautions stand; put the check itself and take its answer. ``optional``: an empty line leaves it."""
        say = self.console.say
        say(check.text)
        if check.how:
            say(f"How: {check.how}")
        if check.tool:
            say(f"Tool: {', '.join(check.tool)}.")
        answers = (*check.answers, COULD_NOT_TELL)
        if check.answers:
            self.console.choices(answers)
        else:
            say(_how_to_type(check))
        prompt = "Answer (Enter to leave it):" if optional else "Answer:"
        typed = self._line(prompt, answers, optional)
        while typed.strip():
            try:
                understood = self.call.understand(check.id, typed)
            except AnswerError as error:
                say(str(error))
                typed = self._line(prompt, answers, optional)
                continue
            if understood.doubt:
                say(understood.doubt)
                second = self._line(f'Type keep to keep "{typed.strip()}", or the answer again:', answers)
                if second.strip().casefold() not in ("keep", typed.strip().casefold()):
                    typed = second
                    continue
            self.call.answer(check.id, typed, mode=mode)
            say(f"Taken down: {in_words(check, understood.value, understood.unit, self.units)}.")
            raise _Moved

    def _put_remedy(self, step: Step) -> None:
        remedy = self.call.trees.remedies[step.id]
        self._head("Remedy", remedy, step)
        self._do_remedy(remedy)

    def _do_remedy(self, remedy: Remedy) -> None:
        self.console.say(f"{remedy.title}.")
        if remedy.how:
            self.console.say(f"How: {remedy.how}")
        if remedy.parts:
            parts = (f"{count} x {title(self.call.trees, 'parts', part)}" for part, count in remedy.parts.items())
            self.console.say(f"Parts: {', '.join(parts)}.")
        if is_powered(self.call.trees, remedy.energy) or not power_state(self.call.trees):
            done = ["Done, and the complaint is gone", "Done, and the complaint is still there"]
        else:
            done = ["Done: try the door next"]
        chosen = self._choose("Then:", [*done, "Not done"])
        if chosen == len(done):
            self.console.say("Put off. Then choose another way on.")
            self._other_ways(remedy.id)
        elif chosen is not None and len(done) == 1:
            self._try_out(remedy, power_state(self.call.trees))
        elif chosen is not None:
            self.call.tried(remedy.id, worked=chosen == 0)
            raise _Moved

    def _try_out(self, remedy: Remedy, powered: str) -> None:
        """After a remedy done without power: power back on, and only then whether the complaint is gone."""
        not_finished = "The remedy is not finished"
        if self.call.energy != powered:
            self._state_first(powered)
            if self._choose("Then:", ["Done, the door is in this state", not_finished]) != 0:
                self.console.say(f"Nothing is recorded of it yet: {remedy.title}.")
                raise _Moved
            self.call.enter(powered)
        symptoms = self.call.state.symptoms
        self.console.say(f"Try the door: {'; '.join(title(self.call.trees, 'symptoms', each) for each in symptoms)}.")
        chosen = self._choose("Is the complaint gone?", ["Gone, it works now", "Still there", not_finished])
        if chosen in (0, 1):
            self.call.tried(remedy.id, worked=chosen == 0)
        else:
            self.console.say(f"Nothing is recorded of it yet: {remedy.title}.")
        raise _Moved

    def _other_ways(self, refused: str) -> None:
        """A remedy is put off; what else may be done from here, cheapest first."""
        if ("remedy", refused) not in self.call.state.put_off:
            self.call.put_off("remedy", refused)
        ways = [
            (kind, name)
            for kind, name, _ in self.call.planner.best().alternatives
            if name != refused and kind in ("check", "remedy")
        ][:_MOST_LISTED]
        trees = self.call.trees
        texts = [self._way_on(kind, name) for kind, name in ways]
        chosen = self._choose("Which:", [*texts, "None of these: answer another check, or close"])
        if chosen is None:
            return
        if chosen == len(ways):
            self.console.say("Type know for other checks, tried for other remedies, or close.")
            self._await_command()
        kind, name = ways[chosen]
        entry = self._first_on_the_way(name) if kind == "check" else trees.remedies[name]
        self._enter_for(entry)
        self._cautions(entry)
        if isinstance(entry, Remedy):
            self._do_remedy(entry)
        else:
            self._ask_check(entry, "new")

    def _way_on(self, kind: str, name: str) -> str:
        """A step to choose from a list: what it is, whether it was put off, and who would have to come."""
        put_off = "put off" if (kind, name) in self.call.state.put_off else ""
        remedy = "remedy" if kind == "remedy" else ""
        remarks = "; ".join(filter(None, (remedy, put_off, absent_from(self.call, kind, name))))
        return step_title(self.call.trees, kind, name) + (f" ({remarks})" if remarks else "")

    def _first_on_the_way(self, name: str) -> Check:
        """What has to be found out first to have a check answered: often the check itself."""
        candidate = next((c for c in self.call.planner.candidates if c.way.goal == name), None)
        steps = [self.call.trees.checks[each] for each in (candidate.way.steps if candidate else (name,))]
        return next(step for step in steps if step.kind != "computed")

    def _enter_for(self, entry: model.Step) -> None:
        """Bring the door into the state a step needs, where it is not in it."""
        if entry.energy in (self.call.energy, "any"):
            return
        self._state_first(entry.energy)
        if self._choose("Then:", ["The door is in this state", "It cannot be brought into it"]) != 0:
            raise _Moved
        self.call.enter(entry.energy)

    def _put_proof(self, step: Step) -> None:
        proof = self.call.trees.proofs[step.id]
        self._head("Proof", proof, step)
        self._do_proof(proof)

    def _do_proof(self, proof: Proof) -> None:
        self.console.say(f"{proof.title}.")
        if proof.how:
            self.console.say(f"How: {proof.how}")
        self.console.say(f"Passes when: {proof.passes_when}")
        chosen = self._choose("It:", ["passed", "did not pass"])
        if chosen is not None:
            self.call.proved(proof.id, passed=chosen == 0)
            if chosen == 1:
                self.console.say("Nobody uses the door until this has passed. Looking further.")
            raise _Moved

    def _put_energy(self, step: Step) -> None:
        self._state_first(step.id)
        if step.goal == RETURN:
            self._power_back(step)
        entry = self._goal(step)
        self.console.say(f"It is needed for: {with_absent(self.call, step.goal, step.goal_kind)}")
        chosen = self._choose("Then:", ["Done, the door is in this state", "It cannot be done now"])
        if chosen == 0:
            self.call.enter(step.id)
        elif chosen == 1 and isinstance(entry, Check):
            self.call.answer(entry.id, COULD_NOT_TELL)
            self.console.say(f"Taken down: could not tell. {entry.text}")
        elif chosen == 1 and isinstance(entry, Remedy):
            self._other_ways(entry.id)
        elif chosen == 1:
            self.console.say("Until it is proved the door stays out of service. Type close, or go on later.")
            self._await_command()
        raise _Moved

    def _power_back(self, step: Step) -> None:
        self.console.say(step.why)
        if self._choose("Then:", ["Done, the door is in this state", "It cannot be done now"]) == 0:
            self.call.enter(step.id)
        else:
            self.console.say("Then it stays out of service. Type close, or go on later.")
            self._await_command()
        raise _Moved

    def _goal(self, step: Step) -> Check | Remedy | Proof:
        trees = self.call.trees
        if step.goal_kind == "remedy":
            return trees.remedies[step.goal]
        return trees.proofs[step.goal] if step.goal_kind == "proof" else trees.checks[step.goal]

    def _state_first(self, energy: str) -> None:
        state = self.call.trees.energy[energy]
        self.console.say()
        self.console.say(f"First bring the door into this state: {state.title}.")
        for name in state.cautions:
            self._caution(name)
        if state.how:
            self.console.say(f"How: {state.how}")

    def _put_stop(self, step: Step) -> None:
        self.console.say()
        if step.id == "no symptom":
            self._symptoms("")
            raise _Moved
        if step.id == RETURN:
            self.console.say(step.why)
            chosen = self._choose("Then:", ["Close the call: returned to service", "Not yet"])
            if chosen == 0:
                self._end("returned to service")
            else:
                self._await_command()
            return
        if step.id == PROOF_FAILED:
            self._put_failed(step)
            return
        if step.id == "closed":
            self.console.say(step.why)
            if self._choose("Then:", ["Go on with this call", "Leave it closed"]) == 0:
                self.call.reopen()
                raise _Moved
            raise _Left
        self.console.say(step.why)
        self._name_odd()
        self.console.say("Type know to answer more, tried for remedies, people to say who else is here, or close.")
        self._await_command()

    def _put_failed(self, step: Step) -> None:
        """What a failed proof showed, to be taken up in place of the first complaint."""
        raised = self.call.raised_by(self.call.trees.proofs[step.goal])
        self.console.say(step.why)
        ways = [f"Look into: {self.call.trees.symptoms[symptom].title}" for symptom in raised]
        chosen = self._choose("Then:", [*ways, "Go on with the first complaint"])
        if chosen is None:
            return
        if chosen < len(raised):
            self.call.state_symptoms([raised[chosen]])
        else:
            self.call.put_off("proof", step.goal)
        raise _Moved

    # --- how a step is shown -------------------------------------------------------------------------------

    def _head(self, kind: str, entry: model.Step, step: Step) -> None:
        """What it is, how long it takes and by whom; then, before anything else is said, its cautions."""
        trees = self.call.trees
        parts = [_minutes(entry.minutes), title(trees, "energy", entry.energy), title(trees, "access", entry.access)]
        parts.append(explain.absent(trees, entry, self.call.state.people) or title(trees, "people", entry.who))
        if entry.crew > 1:
            parts.append(f"{entry.crew} people")
        low, high = step.interval
        spread = f" ({low:.0f} to {high:.0f})" if high - low >= 1 else ""
        self.console.say()
        self.console.say(
            f"{kind}: {', '.join(parts)}. To a proven door: about {_minutes(step.expected_minutes_left)}{spread}."
        )
        self._cautions(entry)

    def _cautions(self, entry: model.Step) -> None:
        for caution in cautions_of(self.call.trees, entry):
            self._caution(caution.id)

    def _caution(self, name: str) -> None:
        caution = self.call.trees.cautions[name]
        self.console.say(f"{caution.word}: {caution.text}")

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
                try:
                    command.do(rest)
                except CallError as error:
                    self.console.say(str(error))
            elif typed.strip() or empty:
                return typed
            else:
                self.console.say("Nothing was typed. Type help to see what can be.")

    def _any_line(self, prompt: str) -> str:
        return self._line(prompt, empty=True)

    def _await_command(self) -> NoReturn:
        """Nothing is put: only a command leads on, by raising ``_Moved`` or ``_Left``."""
        while True:
            typed = self._line("Command:")
            self.console.say(f"'{typed.strip()[:40]}' is no command. Type help for a list.")

    def _as_command(self, typed: str, exact: set[str]) -> tuple[Command | None, str]:
        text = typed.strip()
        word, _, rest = text.lstrip("/").partition(" ")
        name = self._aliases.get(word.casefold(), word.casefold())
        if name not in self._commands or (text.casefold() in exact and not text.startswith("/")):
            return None, ""
        return self._commands[name], rest.strip()

    def _choose(self, prompt: str, texts: Sequence[str]) -> int | None:
        """Which of a numbered list: its number, or the start of one. An empty line chooses none."""
        self.console.choices(texts)
        while True:
            typed = self._line(prompt, empty=True).strip().casefold()
            if not typed:
                return None
            chosen = pick(typed, texts)
            if chosen is not None:
                return chosen
            self.console.say(f"Type a number from 1 to {len(texts)}.")

    # --- commands ------------------------------------------------------------------------------------------

    def _help(self, _: str) -> None:
        self.console.say("Type an answer, or one of these words (/word where the word is an answer too):")
        for name, command in self._commands.items():
            self.console.say(f"  {name}: {command.help}", hang=4)

    def _quit(self, _: str) -> None:
        raise _Left

    def _why(self, _: str) -> None:
        say = self.console.say
        say(self._step.why or "There is no step to explain.")
        planner = self.call.planner
        candidate = next((c for c in planner.candidates if c.way.goal == self._step.goal), None)
        if self._step.goal_kind == "check" and candidate is not None:
            for found in explain.consequences(planner, candidate):
                cause = explain.cause_title(self.call.trees, found.cause)
                say(f"  If {found.answer} ({percent(found.chance)}): {cause}, {percent(found.probability)}.", hang=4)
        changers = explain.mind_changers(planner) if self.call.state.outcome is None else []
        if changers:
            say("What would change my mind:")
            for text in changers:
                say(f"  {text}", hang=4)

    def _likely(self, rest: str) -> None:
        suspects = suspects_now(self.call, self.units)
        if rest.isdecimal() and 1 <= int(rest) <= len(suspects):
            suspect = suspects[int(rest) - 1]
            self.console.say(f"{suspect.title}, {percent(suspect.probability)}. {suspect.explain}")
            for reason in suspect.telling:
                self.console.say(f"  {reason.check} {reason.found}: {reason.words}.", hang=4)
            if not suspect.telling:
                self.console.say("No answer speaks clearly for or against it yet.")
            return
        self.console.choices([f"{percent(s.probability)}  {s.title}" for s in suspects[:_MOST_LISTED]])
        self._name_odd()

    def _know(self, rest: str) -> None:
        """Checks that can be reached are listed first; by its words any other that bears on a suspect is found too."""
        known = self.call.inference.known
        reachable = dict.fromkeys(n for c in self.call.planner.candidates for n in c.way.steps)
        bearing = dict.fromkeys(n for n in self.call.situation.tables if n not in known)
        checks = [self.call.trees.checks[name] for name in reachable | bearing]
        checks = [check for check in checks if check.kind != "computed"]
        if not checks:
            self.console.say("There is no other check that would tell anything.")
            return
        listed = sum(check.id in reachable for check in checks)
        prompt = "Which can you answer (number, or a word of it):"
        chosen = self._narrowed(prompt, [check.text for check in checks], rest, listed)
        if chosen is not None:
            self._ask_out_of_turn(checks[chosen], "new")

    def _ask_out_of_turn(self, check: Check, mode: Mode) -> None:
        """A check that the person chose: its state and its cautions are said, and it may be left."""
        if check.energy not in (self.call.energy, "any"):
            state = title(self.call.trees, "energy", check.energy)
            self.console.say(f"It is found out in this state only: {state}.")
        self._cautions(check)
        self._ask_check(check, mode, optional=True)

    def _look(self, rest: str) -> None:
        """Ask again what a caller told."""
        rechecks = still_to_see(self.call)
        if not rechecks:
            self.console.say("Nothing that a caller told is worth looking at again.")
            return
        number = int(rest) if rest.isdecimal() else 1
        if not 1 <= number <= len(rechecks) or (rest and not rest.isdecimal()):
            self.console.say(f"Type look and a number from 1 to {len(rechecks)}.")
            return
        self._ask_out_of_turn(self.call.trees.checks[rechecks[number - 1].check], "again")

    def _later(self, _: str) -> None:
        """Put the step off, or what it leads to."""
        step = self._step
        kind, name = step.goal_kind or step.kind, step.goal or step.id
        if step.kind == "stop" or self.call.state.outcome is not None:
            self.console.say("There is no step to put off.")
            return
        if (kind, name) in self.call.state.put_off:
            self.console.say("It was put off before; there is nothing better to do now.")
            return
        self.call.put_off(kind, name)
        self.console.say(f"Put off: {step_title(self.call.trees, kind, name)}")
        raise _Moved

    def _narrowed(self, prompt: str, texts: Sequence[str], words: str, listed: int | None = None) -> int | None:
        """Which of many, by number or by words of it. The first ``listed`` are shown, words search all of them."""
        shown = list(range(len(texts) if listed is None else listed))
        if not words:
            self.console.choices([texts[i] for i in shown])
        while True:
            wanted = words.casefold().split()
            found = [i for i, text in enumerate(texts) if all(word in text.casefold() for word in wanted)]
            if wanted and not found:
                self.console.say(f"None has '{words}' in it.")
            elif wanted and len(found) == 1:
                return found[0]
            elif wanted:
                shown = found
                self.console.choices([texts[i] for i in shown])
            words = self._line(prompt, empty=True).strip()
            if not words:
                return None
            if words.isdecimal() and 1 <= int(words) <= len(shown):
                return shown[int(words) - 1]

    def _back(self, _: str) -> None:
        counting = standing(self.call.events)
        if len(counting) < 2 or not self.call.undo():
            self.console.say("There is nothing to undo.")
            return
        self.console.say(f"Undone: {event_in_words(self.call.trees, counting[-1])}.")
        raise _Moved

    def _numbered(self) -> list[Answer]:
        return [item for item in self.call.state.evidence if isinstance(item, Answer)]

    def _answers(self, _: str) -> None:
        answers = self._numbered()
        if not answers:
            self.console.say("Nothing is answered yet.")
        again = {each.check for each in still_to_see(self.call)}
        checks = self.call.trees.checks
        self.console.choices(
            [
                f"{checks[a.check].text if a.check in checks else a.check} "
                f"{in_words(checks.get(a.check), a.value, a.unit, self.units)}{_as_told(a, again)}"
                for a in answers
            ]
        )

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
            self._cautions(check)
            self._ask_check(check, "correction", optional=True)

    def _again(self, rest: str) -> None:
        check = self._answered(rest)
        if check is not None and check.answers:
            self.console.say("Only readings are averaged. Type change to correct an answer.")
        elif check is not None:
            self._cautions(check)
            self._ask_check(check, "again", optional=True)

    def _withdraw(self, rest: str) -> None:
        check = self._answered(rest)
        if check is not None:
            self.call.withdraw(check.id)
            self.console.say(f"Taken back: {check.text}")
            raise _Moved

    def _note(self, rest: str) -> None:
        text = rest or self.console.ask("Note:").strip()
        if text:
            self.call.note(text)
            self.console.say("Noted.")

    def _tried(self, rest: str) -> None:
        remedies = [repair.remedy for repair in self.call.planner.remedies]
        if not remedies:
            self.console.say("No remedy of a likely cause is left to try.")
            return
        titles = [with_absent(self.call, remedy.id) for remedy in remedies]
        chosen = self._narrowed("Which (number, or a word of it):", titles, rest)
        if chosen is not None:
            self._enter_for(remedies[chosen])
            self._cautions(remedies[chosen])
            self._do_remedy(remedies[chosen])

    def _proofs(self, _: str) -> None:
        needed, results = self.call.needed_proofs(), self.call.state.proofs
        words = {True: "passed", False: "did not pass", None: "not done"}
        chosen = self._choose(
            "Which to do now (Enter for none):", [f"{p.title}: {words[results.get(p.id)]}" for p in needed]
        )
        if chosen is not None:
            self._enter_for(needed[chosen])
            self._cautions(needed[chosen])
            self._do_proof(needed[chosen])

    def _energy(self, _: str) -> None:
        states = list(self.call.trees.energy.values())
        self.console.say(f"The door is taken to be in the state: {title(self.call.trees, 'energy', self.call.energy)}.")
        chosen = self._choose("Which is it in (Enter to leave it):", [state.title for state in states])
        if chosen is not None:
            for name in states[chosen].cautions:
                self._caution(name)
            self.call.enter(states[chosen].id)
            raise _Moved

    def _facts(self, rest: str) -> None:
        facts = list(self.call.trees.facts.values())
        known = self.call.state.facts
        texts = [f"{fact.title}: {_fact_words(known.get(fact.id))}" for fact in facts]
        chosen = self._narrowed("Which to state (Enter for none):", texts, rest)
        if chosen is not None:
            self._put_fact(facts[chosen])

    def _put_fact(self, fact: Fact) -> None:
        """Ask a fact and take it down; an empty line or ? leaves it unknown."""
        self.console.say()
        self.console.say(fact.ask)
        if fact.how:
            self.console.say(f"How: {fact.how}")
        many = fact.many == "yes"
        extra = ["none of these"] if many else []
        self.console.choices([*fact.answers, *extra])
        prompt = "Numbers, parted by commas (? if not known):" if many else "Number (? if not known):"
        while True:
            typed = self._line(prompt, fact.answers, empty=True).strip()
            if typed in ("", "?"):
                return
            found = [pick(part.strip(), [*fact.answers, *extra]) for part in typed.split(",") if part.strip()]
            if found and None not in found and (many or len(found) == 1):
                chosen = [i for i in found if i is not None and i < len(fact.answers)]
                values = tuple(fact.answers[i] for i in dict.fromkeys(chosen))
                self.call.state_fact(fact.id, values if many else values[0])
                raise _Moved
            self.console.say(f"Type {'numbers' if many else 'a number'} from 1 to {len(fact.answers) + len(extra)}.")

    def _symptoms(self, rest: str) -> None:
        stated = self.call.state.symptoms
        for number, symptom in enumerate(stated, start=1):
            self.console.say(f"Complaint {number}: {title(self.call.trees, 'symptoms', symptom)}")
        chosen = choose_symptom(self.console, self.call.trees, self.call.state.facts, rest, self._any_line)
        if chosen is None:
            if not stated:
                self.console.say("Without a complaint there is nothing to look for. Type quit to stop here.")
            return
        kept = tuple(each for each in stated if each != chosen)
        if kept != stated:
            self.console.say("That complaint was stated already; it is taken back.")
            if not kept:
                self.console.say("It is the only one, and stays.")
                return
        self.call.state_symptoms(kept if kept != stated else (*stated, chosen))
        raise _Moved

    def _people(self, _: str) -> None:
        people = list(self.call.trees.people.values())
        here = ", ".join(title(self.call.trees, "people", person) for person in self.call.state.people)
        self.console.say(f"At the door: {here}.")
        self.console.choices([person.title for person in people])
        typed = self._line("Numbers of those who are, parted by commas (Enter to leave it):", empty=True)
        found = [pick(part.strip(), [p.title for p in people]) for part in typed.split(",") if part.strip()]
        if not found:
            return
        if None in found:
            self.console.say(f"Type numbers from 1 to {len(people)}.")
            return
        named = [people[i] for i in found if i is not None]
        self.call.state_people(tuple(dict.fromkeys([*(p.id for p in named), *(i for p in named for i in p.includes)])))
        raise _Moved

    def _history(self, _: str) -> None:
        remarks = remarks_on(self.call.events)
        for event in self.call.events:
            remark = f" ({remarks[event.sequence]})" if event.sequence in remarks else ""
            self.console.say(f"{event.sequence:>3}. {event_in_words(self.call.trees, event)}{remark}", hang=5)

    def _close(self, _: str) -> None:
        chosen = self._choose("Close it as:", ["returned to service", "left out of service"])
        if chosen == 0:
            step = self.call.next_step()
            if step.goal == RETURN:
                self._put_energy(step)
            self._end("returned to service")
        elif chosen == 1:
            self._end("left out of service", self.console.ask("Why is it left out of service?").strip())

    def _end(self, outcome: Outcome, reason: str = "") -> None:
        try:
            self.call.close(outcome, reason)
        except CallError as error:
            self.console.say(str(error))
            return
        raise _Moved

    # --- what a caller told --------------------------------------------------------------------------------

    def _name_told(self) -> None:
        """Say what a caller told that is worth seeing for oneself, once for each list of it."""
        rechecks = still_to_see(self.call)
        named = tuple(each.check for each in rechecks)
        if rechecks and named != self._told:
            self.console.say()
            self.console.say("Told by the caller, see for yourself ('look' asks the first of these again):")
            self.console.choices([f"{self.call.trees.checks[each.check].text} {each.why}" for each in rechecks])
        self._told = named

    # --- when the answers do not fit -----------------------------------------------------------------------

    def _doubt_aloud(self) -> None:
        """Say it once when answers sit ill together in a new way."""
        if self.call.state.outcome is not None or not self.call.state.answers:
            return
        odd = self.call.surprise().odd
        if odd and odd != self._odd:
            self._name_odd()
        self._odd = odd

    def _name_odd(self) -> None:
        surprise = self.call.surprise()
        if not self.call.state.symptoms or not (surprise.odd or surprise.nothing_fits):
            return
        if surprise.nothing_fits:
            trees, here = self.call.trees, self.call.state.people
            others = ", ".join(p.title for p in trees.people.values() if p.call_out and p.id not in here)
            fits = "This does not look like anything I know" if surprise.unlisted >= 0.5 else NOTHING_FITS.rstrip(".")
            self.console.say(f"{fits} ({percent(surprise.unlisted)}).")
            self.console.say(f"Who may see further: {others or 'someone who knows this door'}.")
        numbers = {answer.check: number for number, answer in enumerate(self._numbered(), start=1)}
        for name in [name for name in surprise.odd if name in numbers][:2]:
            text = self.call.trees.checks[name].text
            self.console.say(f"Look again, it fits ill with the rest: {text} ('change {numbers[name]}' corrects it.)")


def choose_symptom(
    console: Console,
    trees: model.Trees,
    facts: Mapping[str, str | tuple[str, ...]],
    words: str,
    line: Callable[[str], str],
) -> str | None:
    """One symptom, by family and number or by words of its title; ``None`` for an empty line."""
    symptoms = [symptom for symptom in trees.symptoms.values() if applies(symptom.applies, facts)]
    if words in trees.symptoms:
        return words
    console.say("What does the door do wrong? Type a number, or a word or two of it.")
    shown: list[Symptom] = symptoms
    families = list(dict.fromkeys(symptom.family for symptom in symptoms))
    by_family = len(symptoms) > _MOST_LISTED and len(families) > 1
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
        if words.isdecimal() and 1 <= int(words) <= listed:
            if not by_family:
                return shown[int(words) - 1].id
            shown, by_family, words = [s for s in symptoms if s.family == families[int(words) - 1]], False, ""
            if len(shown) == 1:
                return shown[0].id


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


def _as_told(answer: Answer, again: set[str]) -> str:
    if answer.heard != "told":
        return ""
    return " (told; see for yourself)" if answer.check in again else " (told)"


def _fact_words(value: str | tuple[str, ...] | None) -> str:
    if value is None:
        return "not known"
    return value if isinstance(value, str) else ", ".join(value) or "none of those asked"


def _how_to_type(check: Check) -> str:
    from diagnose.quantities.units import known

    what = "the readings, parted by spaces or ;" if check.series == "yes" else "the reading"
    taken = f" Without a unit it is taken as {known(check.unit).words}." if check.unit else ""
    return f"Type {what}, or ? if you could not tell.{taken}"


def _minutes(minutes: float) -> str:
    rounded = max(1, round(minutes))
    return f"{rounded} minute{'' if rounded == 1 else 's'}"
