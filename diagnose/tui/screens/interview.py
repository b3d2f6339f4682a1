"""The interview: what to do next, why, what is likely, and where the call stands.

Every answer is recorded first and painted after. The next step is worked out in a thread; a quick stand-in is shown
where that takes longer than a moment, and gives way to the better one unless the person has begun to answer.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from functools import partial
from typing import ClassVar

from textual import events, on, work
from textual.binding import BindingType
from textual.containers import Container, Vertical
from textual.message import Message
from textual.widget import Widget
from textual.widgets import Static

from diagnose.calls.call import Call
from diagnose.knowledge.model import UNLISTED
from diagnose.tui import actions
from diagnose.tui.cards import Card, card_of
from diagnose.tui.in_hand import Course, InHand, Planned, plan
from diagnose.tui.saver import NotSaved, sentence_of
from diagnose.tui.screens.page import Page
from diagnose.tui.text import fit, one_line, plain
from diagnose.tui.view import CallView, view_of
from diagnose.tui.widgets.choices import Choices
from diagnose.tui.widgets.reading import Reading
from diagnose.tui.widgets.status import Standing, Status
from diagnose.tui.widgets.step_card import StepCard
from diagnose.tui.widgets.suspects import Suspects
from diagnose.tui.widgets.title_bar import TitleBar
from diagnose.tui.widgets.trail import Trail

# Seconds to wait for the planned step before a quick one is shown in its place.
_PATIENCE = 0.12
# Work is not done in the moment its card appears: a key that bounces must not pass a row of proofs.
_WORK_TAKES = 4
FAILED_PROOF = "Failed: nobody uses the door until this has passed. Looking further."
TOO_QUICK = "That key came too soon to be an answer. Press it again if it is one."


@dataclass(frozen=True)
class Thought:
    """A step worked out for one state of the call, and the card that shows it."""

    planned: Planned
    card: Card


class Interview(Page[None]):
    """One call, from the first question to the closed record. Dismissed when its user goes back to the start."""

    place = actions.CALL
    BINDINGS: ClassVar[list[BindingType]] = actions.bindings(actions.CALL)

    class Worked(Message):
        """A thread has worked a step out, or failed to (``trouble``). ``turn`` says for which state of the call."""

        def __init__(self, turn: int, thought: Thought | None, trouble: str = "") -> None:
            super().__init__()
            self.turn, self.thought, self.trouble = turn, thought, trouble

    def __init__(self, in_hand: InHand) -> None:
        super().__init__("Call")
        self.in_hand = in_hand
        self.planned: Planned | None = None
        self.view: CallView | None = None
        self._turn = 0
        self._asked_at = 0.0
        self._shown_at = 0.0
        self._stand_in: Thought | None = None
        # Set from a key until what it said is recorded: a second key is not a second answer.
        self._busy = False

    @property
    def call(self) -> Call:
        return self.in_hand.call

    @property
    def card(self) -> Card | None:
        return self.query_one(StepCard).card

    @property
    def is_waiting(self) -> bool:
        """The next step is being worked out, or what was said is being recorded."""
        return self._busy or self.planned is None or self.planned.quick

    def body(self) -> Iterable[Widget]:
        yield Status(id="status")
        with Container(id="desk"):
            yield StepCard(id="step")
            with Vertical(id="side"):
                yield Suspects(id="suspects")
                yield Trail(id="trail")
        yield Static(id="recheck", markup=False)
        yield Static(id="told", markup=False)

    def on_mount(self) -> None:
        if len(self.call.events) == 1:
            self.show_call()
        else:
            self.show_call(f"Taken up where it stopped.{self._strange()}")

    def _strange(self) -> str:
        """What these trees do not know of the call, if it was made with others."""
        trees, state = self.desk.trees, self.call.state
        known = {**trees.symptoms, **trees.checks, **trees.remedies, **trees.proofs}
        named = [*state.symptoms, *state.answers, *(item.remedy for item in state.tries), *state.proofs]
        strange = sorted({name for name in named if name not in known})
        if not strange:
            return ""
        return f" It was made with other trees; these do not know and leave out: {', '.join(strange)}."

    # --- showing the call ----------------------------------------------------------------------------------

    def show_call(self, told: str = "") -> None:
        """Show the call as it now stands, and work out what comes next."""
        self._busy = False
        self._turn += 1
        self.planned = None
        before = dict(self.view.workings) if self.view else {}
        try:
            self.view = view = view_of(self.call, self.desk.settings.units)
        except Exception as error:
            # Whatever the reasoning stumbles over, the call is kept and its last event can be undone.
            self._step.wait(
                f"This could not be worked out: {sentence_of(error)} Undo (u) takes back what was said last."
            )
            return
        self.query_one(TitleBar).show(f"{view.where} · {view.complaint}")
        self.query_one(Suspects).show(view.suspects, _suspects_title(view, self.call.state.proving))
        self.query_one(Trail).show(view.trail)
        worked = [f"Worked out: {working}" for check, working in view.workings if before.get(check) != working]
        self._show_recheck(view)
        self._tell(told, *(worked if told else ()), self._doubt(view))
        self._show_standing()
        self._think()

    def _doubt(self, view: CallView) -> str:
        if not view.doubtful or self.call.state.outcome is not None:
            return ""
        check = self.desk.trees.checks.get(view.doubtful)
        if check is None:
            return ""
        sentence = plain(one_line(f"Answers sit ill together. Look again (F4): {check.text}"))
        return fit(sentence, max(self.size.width - 2, 40)).plain

    def _show_recheck(self, view: CallView) -> None:
        """What a caller told that somebody who can see should look at, and the key that asks it again."""
        line = self.query_one("#recheck", Static)
        line.display = bool(view.rechecks)
        if view.rechecks:
            more = f", +{len(view.rechecks) - 1}" if len(view.rechecks) > 1 else ""
            title = self.desk.trees.checks[view.rechecks[0].check].text
            sentence = f"Told, see for yourself (Ctrl+T{more}): {title}"
            line.update(fit(plain(one_line(sentence), "bold"), max(self.size.width - 2, 40)))

    def _tell(self, *sentences: str) -> None:
        line = self.query_one("#told", Static)
        said = [one_line(sentence) for sentence in sentences if sentence]
        line.update(plain("\n".join(said)))
        line.display = bool(said)

    def _show_standing(self) -> None:
        if self.view is None:
            return
        saver, step = self.in_hand.saver, self.planned.step if self.planned else None
        quick = self.planned is not None and self.planned.quick
        self.query_one(Status).show(
            Standing(
                self.view.phase,
                self.view.energy,
                None if step is None or quick else step.expected_minutes_left,
                step.interval if step else (0.0, 0.0),
                len(saver.waiting),
                saver.safe,
            )
        )

    # --- working out the next step -------------------------------------------------------------------------

    @property
    def _step(self) -> StepCard:
        return self.query_one(StepCard)

    def _think(self) -> None:
        self._asked_at = self.desk.now()
        self._stand_in = None
        self._step.wait()
        self._think_in_thread(self._turn, self.in_hand.twin(), self.in_hand.course())
        self.set_timer(_PATIENCE, partial(self._grow_impatient, self._turn))

    @work(thread=True, exclusive=True, group="think", exit_on_error=False)
    def _think_in_thread(self, turn: int, call: Call, course: Course) -> None:
        for quick in (True, False):
            if turn != self._turn:
                return
            try:
                planned = plan(call, course, quick)
                self.post_message(self.Worked(turn, Thought(planned, card_of(call, planned))))
            except Exception as error:
                # A fault of the reasoning must not take the call with it.
                if not quick:
                    self.post_message(self.Worked(turn, None, sentence_of(error) or type(error).__name__))

    @on(Worked)
    def _worked(self, event: Worked) -> None:
        if event.turn != self._turn or self._busy:
            return
        if event.trouble:
            self._step.say(f"The best next step could not be worked out: {event.trouble}")
        elif event.thought is not None and event.thought.planned.quick:
            self._stand_in = event.thought
            if self.desk.now() - self._asked_at >= _PATIENCE:
                self._show_step(event.thought)
        elif event.thought is not None:
            self._show_planned(event.thought)

    def _grow_impatient(self, turn: int) -> None:
        if turn == self._turn and self._stand_in is not None and self.card is None and not self._busy:
            self._show_step(self._stand_in)

    def _show_planned(self, thought: Thought) -> None:
        """The better step takes the stand-in's place, unless it is the same or one has begun to answer that."""
        card, better = self.card, thought.planned
        if card is None or self.planned is None:
            self._show_step(thought)
        elif (card.kind, card.id) == (thought.card.kind, thought.card.id):
            self.planned = better
        elif self._step.begun:
            left, interval = better.step.expected_minutes_left, better.step.interval
            step = replace(self.planned.step, expected_minutes_left=left, interval=interval)
            self.planned = replace(better, step=step)
        else:
            self._show_step(thought)
        self._show_standing()

    def _show_step(self, thought: Thought) -> None:
        self.planned = thought.planned
        self._shown_at = self.desk.now()
        check = thought.card.id
        self._step.show(thought.card, lambda text: self.call.understand(check, text))
        self._show_standing()

    # --- what is said --------------------------------------------------------------------------------------

    def on_key(self, event: events.Key) -> None:
        if self._busy or self.card is None or not event.character:
            return
        choices = self.query_one(Choices)
        if not any(choice.key == event.character for choice in choices.choices):
            return
        event.stop()
        slow = _WORK_TAKES if self.card.kind in ("energy", "remedy", "proof") else 1
        if self.desk.now() - self._shown_at < self.desk.settle * slow:
            self._step.say(TOO_QUICK)
            return
        choices.press(event.character)

    @on(Choices.Chosen)
    def _chosen(self, event: Choices.Chosen) -> None:
        event.stop()
        card = self.card
        if self._busy or card is None:
            return
        name = event.choice.name
        call, identity = self.call, card.id
        if card.kind == "check":
            self._say(lambda: call.answer(identity, name), _taken(name))
        elif card.kind == "energy" and name == "entered":
            self._say(lambda: call.enter(identity), f"The door is now: {call.trees.energy[identity].title}")
        elif card.kind == "remedy" and name == "done":
            self.in_hand.done(identity)
            self.show_call("The repair is done.")
        elif name == "unfinished":
            self.in_hand.not_finished()
            self.show_call()
        elif card.kind == "remedy" and name in ("worked", "failed"):
            told = "Done. Now prove it." if name == "worked" else "No change: looking further."
            self._say(lambda: call.tried(identity, name == "worked"), told)
        elif card.kind == "proof" and name in ("passed", "failed"):
            told = "Passed." if name == "passed" else FAILED_PROOF
            self._say(lambda: call.proved(identity, name == "passed"), told)
        elif name == "return":
            self._say(lambda: call.close("returned to service"), "The door is returned to service.")
        elif name == "reopen":
            self._say(lambda: call.reopen(), "The call goes on.")
        elif card.kind == "stop" and name in call.trees.symptoms:
            self._say(
                lambda: call.state_symptoms([name]), "That is looked into now; what was found before still counts."
            )
        elif name == "first-complaint" and self.planned is not None:
            failed = self.planned.step
            self._say(
                lambda: self.in_hand.put_aside(failed), "The failed proof is left for later: nobody uses the door."
            )
        elif name == "recheck":
            self.answer(call.surprise().odd[0], "correction")
        else:
            self._go(name)

    def _go(self, name: str) -> None:
        doers: dict[str, Callable[[], object]] = {
            "another": self.action_another_way,
            "leave": self.action_leave,
            "known": self.action_known,
            "repair": self.action_repair,
            "report": self.action_report,
            "door": self.action_door,
            "back": self.action_back,
        }
        doers[name]()

    @on(Reading.Taken)
    def _read(self, event: Reading.Taken) -> None:
        event.stop()
        card = self.card
        if card is not None and not self._busy:
            call, identity = self.call, card.id
            self._say(lambda: call.answer(identity, event.text), _taken(event.text.strip()))

    def _say(self, change: Callable[[], object], told: str) -> None:
        self._busy = True
        self._record(change, told)

    @work(group="say")
    async def _record(self, change: Callable[[], object], told: str) -> None:
        wrong = await self.desk.attempt(self.in_hand.saver, change)
        if wrong:
            self._busy = False
            self._step.say(f"✗ {wrong}")
            self._show_standing()
        else:
            self.show_call(told)

    # --- actions -------------------------------------------------------------------------------------------

    def action_undo(self) -> None:
        from diagnose.calls.state import standing
        from diagnose.calls.words import event_in_words

        counting = standing(self.call.events)[1:]
        if self._busy:
            return
        if not counting:
            self._step.say("There is nothing to take back.")
            return
        self._say(self.in_hand.undo, f"Taken back: {event_in_words(self.desk.trees, counting[-1])}")

    def _is_closed(self) -> bool:
        closed = self.call.state.outcome is not None
        if closed:
            self._step.say("The call is closed. Go on with it first (2).")
        return closed

    def action_why(self) -> None:
        from diagnose.tui.screens.why import why_page

        if self.planned is not None:
            self.app.push_screen(why_page(self.in_hand.twin(), self.planned))

    def action_evidence(self) -> None:
        from diagnose.tui.screens.evidence import EvidencePage

        if self.view is not None:
            self.app.push_screen(EvidencePage(self.call, self.view))

    def action_map(self) -> None:
        from diagnose.tui.screens.map import map_page

        if self.view is not None:
            self.app.push_screen(map_page(self.call, self.view))

    def action_read_on(self) -> None:
        self._step.scroll_words(1)

    def action_read_back(self) -> None:
        self._step.scroll_words(-1)

    def action_report(self) -> None:
        from diagnose.tui.screens.report import ReportPage

        self.app.push_screen(ReportPage(self.call, self.in_hand.saver.call_id))

    def action_back(self) -> None:
        if self.in_hand.saver.safe:
            self.dismiss(None)
        else:
            self.action_quit_unsaved()

    def action_quit_unsaved(self) -> None:
        from diagnose.tui.screens.quit import QuitUnsaved

        def leave(sure: bool | None) -> None:
            if sure:
                self.dismiss(None)

        self.app.push_screen(QuitUnsaved(self.in_hand.saver), leave)

    def action_save_now(self) -> None:
        try:
            self.in_hand.saver.save_now()
        except NotSaved as error:
            self._tell(f"Still not saved: {error}")
        else:
            self._tell("Everything is saved.")
        self._show_standing()

    @work(exclusive=True, group="page")
    async def action_trail(self) -> None:
        from diagnose.tui.screens.answers import Answers

        if not self._is_closed() and await self.app.push_screen_wait(Answers(self.in_hand)):
            self.show_call("Changed.")

    @work(exclusive=True, group="page")
    async def action_known(self) -> None:
        if self._is_closed():
            return
        from diagnose.tui.screens.known import Known

        check = await self.app.push_screen_wait(Known(self.call, self.desk.settings.units))
        if check:
            self.answer(check, "new")

    def action_look_again(self) -> None:
        if self._is_closed():
            return
        if self.view is None or not self.view.rechecks:
            self._step.say("Nothing that a caller told is worth looking at again.")
            return
        self.answer(self.view.rechecks[0].check, "again")

    @work(exclusive=True, group="answer")
    async def answer(self, check: str, mode: str) -> None:
        """Answer any check, asked or not."""
        from diagnose.tui.screens.answer import AnswerPage

        if await self.app.push_screen_wait(AnswerPage(self.in_hand, check, mode)):
            self.show_call("Taken.")

    @work(exclusive=True, group="page")
    async def action_repair(self) -> None:
        if self._is_closed():
            return
        from diagnose.tui.screens.repair import Repair

        remedy = await self.app.push_screen_wait(Repair(self.call))
        if remedy:
            await self._choose("remedy", remedy, "You chose this repair.")

    async def _choose(self, kind: str, identity: str, told: str) -> None:
        """Do this next. Where it was put off that is recorded, which can fail."""
        wrong = await self.desk.attempt(self.in_hand.saver, lambda: self.in_hand.choose(kind, identity))
        if wrong:
            self._step.say(f"✗ {wrong}")
        else:
            self.show_call(told)

    @work(exclusive=True, group="page")
    async def action_another_way(self) -> None:
        if self._is_closed():
            return
        from diagnose.tui.screens.another_way import AnotherWay

        planned = self.planned
        if planned is None or planned.quick:
            return
        step = planned.step
        if not planned.alternatives:
            self._step.say("There is no other step to choose here.")
            return
        chosen = await self.app.push_screen_wait(AnotherWay(planned))
        if chosen is None:
            return
        wrong = await self.desk.attempt(self.in_hand.saver, lambda: self.in_hand.put_aside(step))
        if wrong:
            self._step.say(f"✗ {wrong}")
        else:
            await self._choose(*chosen, "Put off until there is nothing better (U takes it back).")

    @work(exclusive=True, group="page")
    async def action_note(self) -> None:
        from diagnose.tui.screens.sentence import SentencePage

        async def keep(text: str) -> str:
            if not text.strip():
                return "Nothing was typed. Esc goes back without a note."
            return await self.desk.attempt(self.in_hand.saver, lambda: self.call.note(text))

        ask = "What should the next person know that no check asks for?"
        if await self.app.push_screen_wait(SentencePage("Call › Note", ask, "a sentence, then Enter", keep)):
            self._tell("Noted.")
            self._show_standing()

    @work(exclusive=True, group="page")
    async def action_leave(self) -> None:
        from diagnose.tui.screens.sentence import SentencePage

        async def keep(reason: str) -> str:
            return await self.desk.attempt(self.in_hand.saver, lambda: self.call.close("left out of service", reason))

        if self._is_closed():
            return
        ask = (
            "Why is the door left out of service? Lock and tag it so that nobody can run it, and tell those who use "
            "it. The reason stands in the report."
        )
        page = SentencePage("Call › Leave out of service", ask, "the reason, then Enter", keep)
        if await self.app.push_screen_wait(page):
            self.show_call("The door is left out of service.")

    @work(exclusive=True, group="page")
    async def action_door(self) -> None:
        if self._is_closed():
            return
        from diagnose.tui.screens.door import Door, stated_of

        before = len(self.call.events)
        await self.app.push_screen_wait(Door(stated_of(self.call), in_hand=self.in_hand))
        if len(self.call.events) > before:
            self.show_call("The door was corrected.")


def _suspects_title(view: CallView, proving: bool) -> str:
    if proving:
        return "Causes that may be left"
    nothing_fits = bool(view.suspects) and view.suspects[0].cause == UNLISTED
    return "Nothing known fits well; what comes nearest" if nothing_fits else "Likely causes"


def _taken(answer: str) -> str:
    return f"Taken: {answer}   (Ctrl+Z or U takes it back)"
