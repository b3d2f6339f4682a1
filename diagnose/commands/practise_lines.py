"""Practice line by line: the same door as on the screens, over one line at a time."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from functools import partial

from diagnose.commands import telling as telling_lines
from diagnose.commands.choosing import MOST_LISTED, by_number
from diagnose.commands.console import Console
from diagnose.commands.lines import Command, Left, Lines, Moved
from diagnose.finding.reading import trade_reader
from diagnose.knowledge.words import minutes
from diagnose.practice import acts, telling
from diagnose.practice.debrief import Debrief
from diagnose.practice.debriefing import debriefing
from diagnose.practice.desk import Desk
from diagnose.practice.scene import PracticeError
from diagnose.practice.session import Session
from diagnose.sitting.cards import Card
from diagnose.sitting.places import where_named
from diagnose.sitting.practised import ELSE, Way, act_of, practice_card, ways

_HELP = {
    "look": "'look lamp' finds checks with that word, to look at or measure",
    "repair": "'repair splice' finds repairs with that word",
    "try": "try the door: is the complaint gone?",
    "proofs": "what must pass before the door returns to service, and run one",
    "state": "bring the door into another state: power, covers, lock, held",
    "call": "have somebody come who may do what you may not",
    "withdraw": "'withdraw 2' counts an answer no more",
    "hint": "what would be best next, for 3 points; 'hint likely' the suspects, for 2",
    "close": "end the call",
}


class PracticeLines(Lines):
    """One practice, a line at a time. Any word that is no command is searched for among checks and remedies."""

    def __init__(self, desk: Desk, session: Session, console: Console) -> None:
        super().__init__(console, trade_reader(session.trees))
        self.desk, self.session = desk, session
        self._card: Card | None = None
        of_practice = {name: Command(partial(self._take, (name,)), told) for name, told in _HELP.items()}
        if self.session.scenario.walk:
            of_practice["jobs"] = Command(partial(self._take, ("jobs",)), "every job of the walk, to go to one of them")
        self._commands = {
            **of_practice,
            "answers": Command(self._answers, "what you found so far, numbered"),
            "cautions": Command(self._cautions, "the cautions of this step in full"),
            "door": Command(self._door, "the door, the complaint, and what the caller said"),
            "where": Command(self._where, "'where drum' shows where a thing on the door sits, and what it looks like"),
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
        found = self.desk.finish(self.session)
        self.console.read(debriefing(found))
        if self.session.id:
            again = f"diagnose practise --debrief {self.session.id} --export debriefing.html"
            self.console.say(f"To keep it: {again}")
        return found

    def _next(self) -> None:
        """Anything, by its words; on a walk its next card, and behind that card's own choices anything else."""
        if not self.session.scenario.walk:
            self._anything(self._line(f"{self._standing()} >"))
            return
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
        self._take(("look", "repair"), words)

    def _take(self, names: Sequence[str], words: str) -> None:
        """One of what may be done so: by its id, by words of it or by number; an empty line takes none."""
        of_practice = [ways(self.session)[name] for name in names]
        found = [(way, name, text) for way in of_practice for name, text in way.items.items()]
        way, ids, texts = of_practice[0], [name for _, name, _ in found], [text for *_, text in found]
        if not found:
            self.console.say(way.none)
            return
        if not way.ask:
            chosen: int | None = 0
        elif words in ids:
            chosen = ids.index(words)
        elif way.steps or (chosen := by_number(words, len(found))) is None:
            prompt = f"{way.ask} (Number, or words; Enter for none):"
            chosen = self._narrowed(prompt, texts, words, MOST_LISTED if way.steps else None)
        if chosen is not None:
            self._carry_out(*found[chosen][:2])

    def _carry_out(self, way: Way, name: str) -> None:
        """The card first, where there is one, then whether to do it; then the words it asks for."""
        while way.card is not None:
            card = self._card = way.card(name)
            telling_lines.card(self.console, card)
            number = self.one_of([choice.label for choice in card.choices], empty=True)
            chosen = card.choices[number].name if number is not None else ""
            if chosen == "state":
                with suppress(Moved):
                    self._take(("state",), "")
            elif not chosen:
                return
            else:
                break
        asks = way.asks.get(name)
        self._do(way.act(name, self.console.ask(asks).strip() if asks else ""))

    def _answers(self, _: str) -> None:
        found = self.session.found()
        if not found:
            self.console.say("Nothing yet.")
        self.console.choices(list(found.values()))

    def _cautions(self, _: str) -> None:
        self._say_cautions(self._card.cautions if self._card is not None else ())

    def _copy_all(self, _: str) -> None:
        done = [f"{minutes(done.clock)}  {line.text}" for done in self.session.done for line in done.lines]
        self._copy("\n".join(done), "what was done so far")

    def _door(self, _: str) -> None:
        self._tell(telling.opening(self.session.trees, self.session.scenario))

    def _help(self, rest: str) -> None:
        super()._help(rest)
        self.console.say("Any other word is looked for among the checks and repairs.")
