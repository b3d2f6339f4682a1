"""Practice line by line: the same door as on the screens, over one line at a time."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from diagnose.calls.words import cautions_named, cautions_of
from diagnose.commands.console import Command, Console, say_all
from diagnose.finding.reading import trade_reader
from diagnose.finding.search import Shelf, Text
from diagnose.knowledge.model import ANY, Check, Remedy, Task
from diagnose.practice import telling
from diagnose.practice.debrief import Debrief
from diagnose.practice.desk import Desk, Sitting
from diagnose.practice.session import (
    AnyAct,
    AskFor,
    CallIn,
    Enter,
    Finish,
    Look,
    Mend,
    PracticeError,
    Prove,
    TakeBack,
    TryDoor,
)

_MOST_LISTED = 15


class _Stopped(Exception):
    """The trainee leaves; the practice stays open."""


class PracticeLines:
    """One practice, a line at a time. Any word that is no command is searched for among checks and remedies."""

    def __init__(self, desk: Desk, sitting: Sitting, console: Console) -> None:
        self.desk = desk
        self.sitting = sitting
        self.session = sitting.session
        self.console = console
        self._commands = {
            "look": Command(self._look, "'look lamp' finds checks with that word, to look at or measure"),
            "mend": Command(self._mend, "'mend splice' finds remedies with that word"),
            "try": Command(self._try, "try the door: is the complaint gone?"),
            "prove": Command(self._prove, "run a proof; all that the door needs must pass before it returns"),
            "state": Command(self._state, "bring the door into another state: power, covers, lock, held"),
            "call": Command(self._call, "have somebody come who may do what you may not"),
            "found": Command(self._found, "what you found so far; 'found 2' counts that answer no more"),
            "door": Command(self._door, "the door, the complaint, and what the caller said"),
            "hint": Command(self._hint, "what would be best next, for 3 points; 'hint likely' the suspects, for 2"),
            "close": Command(self._close, "end the call"),
            "quit": Command(self._quit, "stop here; go on at the next start"),
            "help": Command(self._help, "this list"),
        }
        self._aliases = {"measure": "look", "repair": "mend", "energy": "state", "answers": "found", "exit": "quit"}

    def run(self) -> Debrief | None:
        """Until the call is closed and debriefed; ``None`` where it was left."""
        self._door("")
        self.console.say("Type help for what can be done.")
        while not self.session.is_over:
            try:
                self._command(self.console.ask(f"{self._standing()} >"))
            except PracticeError as error:
                self.console.say(str(error))
            except _Stopped:
                self.console.say("The practice stays open: 'diagnose practise' goes on with it.")
                return None
        found = self.desk.finish(self.sitting)
        say_all(self.console, telling.debriefing(found))
        if self.sitting.id:
            again = f"diagnose practise --debrief {self.sitting.id} --export debriefing.html"
            self.console.say(f"To keep it: {again}")
        return found

    def _standing(self) -> str:
        session = self.session
        state = session.trees.energy[session.energy].title
        money = f"{session.trees.costs.currency}{session.money:.0f}"
        return f"[{session.clock:.0f} min, {money}, {state}]"

    def _command(self, typed: str) -> None:
        word, _, rest = typed.strip().partition(" ")
        name = self._aliases.get(word.casefold(), word.casefold())
        if not word:
            self.console.say("Type help for what can be done.")
        elif name in self._commands:
            self._commands[name].do(rest.strip())
        else:
            self._anything(typed.strip())

    def _do(self, act: AnyAct) -> None:
        for line in self.session.do(act).lines:
            self.console.say(f"! {line.text}" if line.kind == "hurt" else line.text, hang=2)

    # --- steps ---------------------------------------------------------------------------------------------

    def _anything(self, words: str) -> None:
        session = self.session
        entries: list[Task] = [*session.checks(), *session.remedies()]
        self._step(self._narrowed(entries, words))

    def _look(self, words: str) -> None:
        self._step(self._narrowed(list(self.session.checks()), words))

    def _mend(self, words: str) -> None:
        self._step(self._narrowed(list(self.session.remedies()), words))

    def _prove(self, words: str) -> None:
        def shown(step: Task) -> str:
            return f"{_title(step)}: {self.session.said_of(step.id)}"

        self._step(self._narrowed(list(self.session.proofs()), words, shown))

    def _narrowed(self, entries: Sequence[Task], words: str, shown: Callable[[Task], str] | None = None) -> Task | None:
        """One entry, by words of it and then by number; an empty line chooses none."""
        texts = shown or _title
        shelf = Shelf([Text(_title(each), each.id) for each in entries], trade_reader(self.session.call.trees))
        while True:
            found = [entries[place] for place in shelf.find(words)]
            wanted = words.casefold().split()
            exact = [each for each in found if all(word in _title(each).casefold() for word in wanted)]
            if not found:
                self.console.say(f"Nothing here is like '{words}'.")
                return None
            if words and len(exact) == 1:
                return exact[0]
            listed = found[:_MOST_LISTED]
            self.console.choices([texts(each) for each in listed])
            if len(listed) < len(found):
                self.console.say(f"And {len(found) - len(listed)} more: type a word of what you want to do.")
            words = self.console.ask("Which (number, or words; Enter for none):").strip()
            if not words:
                return None
            if words.isdecimal() and words.isascii() and 1 <= int(words) <= len(listed):
                return listed[int(words) - 1]

    def _step(self, step: Task | None) -> None:
        """The cautions first; then what it is, who does it and how; then whether to do it as the door stands."""
        if step is None:
            return
        trees = self.session.trees
        for caution in cautions_of(trees, step):
            self.console.say(f"{caution.word}: {caution.text}")
        say_all(self.console, telling.step(trees, step))
        state = trees.energy[self.session.energy].title
        self.console.choices([f"Do it, the door as it stands: {state}", "Leave it"])
        if pick(self.console, "Then:", 2) == 0:
            act: AnyAct = Prove(proof=step.id)
            if isinstance(step, Check):
                act = Look(check=step.id)
            elif isinstance(step, Remedy):
                act = Mend(remedy=step.id)
            self._do(act)

    def _try(self, _: str) -> None:
        self._do(TryDoor())

    def _state(self, words: str) -> None:
        trees = self.session.trees
        states = [state for state in trees.energy.values() if state.id not in (ANY, self.session.energy)]
        chosen = self._of_few("Into which state:", [state.title for state in states], words)
        if chosen is None:
            return
        state = states[chosen]
        for caution in cautions_named(trees, state.cautions):
            self.console.say(f"{caution.word}: {caution.text}")
        if state.how:
            self.console.say(f"How: {state.how}")
        self._do(Enter(energy=state.id))

    def _call(self, words: str) -> None:
        absent = self.session.absent()
        if not absent:
            self.console.say("Everybody is here.")
            return
        chosen = self._of_few("Who is to come:", list(absent.values()), words)
        if chosen is not None:
            self._do(CallIn(person=list(absent)[chosen]))

    def _found(self, rest: str) -> None:
        found = self.session.found()
        if rest.isdecimal() and 1 <= int(rest) <= len(found):
            self._do(TakeBack(check=list(found)[int(rest) - 1]))
            return
        if not found:
            self.console.say("Nothing yet.")
        self.console.choices(list(found.values()))

    def _of_few(self, prompt: str, texts: Sequence[str], words: str) -> int | None:
        """Which of a few, by words of it or by number; those that begin with the words come first."""
        wanted = words.casefold()
        for fits in (str.startswith, str.__contains__):
            found = [n for n, text in enumerate(texts) if wanted and fits(text.casefold(), wanted)]
            if len(found) == 1:
                return found[0]
        self.console.choices(texts)
        return pick(self.console, prompt, len(texts))

    def _door(self, _: str) -> None:
        say_all(self.console, telling.opening(self.session.trees, self.session.scenario))

    def _hint(self, rest: str) -> None:
        self._do(AskFor(about="likely" if "likely".startswith(rest.casefold()) and rest else "next"))

    def _close(self, _: str) -> None:
        self.console.choices(["Returned to service", "Left out of service, or handed over", "Not yet"])
        chosen = pick(self.console, "Close it as:", 3)
        if chosen == 0:
            self._do(Finish(outcome="returned to service"))
        elif chosen == 1:
            reason = self.console.ask("Why is it left out of service?").strip()
            self._do(Finish(outcome="left out of service", reason=reason))

    def _quit(self, _: str) -> None:
        raise _Stopped

    def _help(self, _: str) -> None:
        for name, command in self._commands.items():
            self.console.say(f"  {name}: {command.help}", hang=4)
        self.console.say("Any other word is looked for among the checks and remedies.")


def _title(step: Task) -> str:
    return step.text if isinstance(step, Check) else str(getattr(step, "title", step.id))


def pick(console: Console, prompt: str, count: int) -> int | None:
    """A number of a list, from 0, asked again until it is one; an empty line chooses none."""
    while True:
        typed = console.ask(prompt).strip()
        if not typed:
            return None
        if typed.isdecimal() and typed.isascii() and 1 <= int(typed) <= count:
            return int(typed) - 1
        console.say(f"Type a number from 1 to {count}, or Enter for none.")
