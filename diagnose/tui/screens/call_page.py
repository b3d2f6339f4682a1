"""A call as it stands: the next step, what is likely, the way so far, painted anew after each thing said.

The next step is worked out in a thread; a quick stand-in is shown where that takes longer than a moment, and gives way
to the better one unless the person has begun to answer.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import partial

from textual import on, work
from textual.containers import Container, Vertical
from textual.message import Message
from textual.widget import Widget

from diagnose.calls.call import Call
from diagnose.calls.events import Opened, Recalled
from diagnose.sitting.cards import Card
from diagnose.sitting.course import Planned
from diagnose.sitting.sitting import Put, Sitting
from diagnose.sitting.view import CallView, not_known
from diagnose.tui import actions
from diagnose.tui.keys import key_for
from diagnose.tui.saver import InHand, sentence_of
from diagnose.tui.screens.page import Page
from diagnose.tui.text import fit, one_line, plain
from diagnose.tui.widgets.chain import ChainStrip
from diagnose.tui.widgets.heard import FromPhone, see_again
from diagnose.tui.widgets.line import Line
from diagnose.tui.widgets.status import Standing, Status
from diagnose.tui.widgets.step_card import StepCard
from diagnose.tui.widgets.suspects import Suspects
from diagnose.tui.widgets.trail import Trail

# Seconds to wait for the planned step before a quick one is shown in its place.
_PATIENCE = 0.12


class CallPage(Page[None]):
    """One call and what comes next in it. What is said to it is taken by ``Interview``."""

    place = actions.CALL

    @dataclass
    class Worked(Message):
        """A thread has worked a step out, or failed to (``trouble``). ``turn`` says for which state of the call."""

        turn: int
        put: Put | None
        trouble: str = ""

    def __init__(self, in_hand: InHand) -> None:
        super().__init__("Call")
        self.in_hand = in_hand
        self.planned: Planned | None = None
        self.view: CallView | None = None
        self._turn = 0
        self._asked_at = 0.0
        self._shown_at = 0.0
        self._stand_in: Put | None = None
        # Set from a key until what it said is recorded: a second key is not a second answer.
        self._busy = False

    @property
    def call(self) -> Call:
        return self.in_hand.call

    @property
    def sitting(self) -> Sitting:
        return Sitting(self.call, self.desk.settings.units)

    @property
    def card(self) -> Card | None:
        return self.query_one(StepCard).card

    @property
    def is_waiting(self) -> bool:
        """The next step is being worked out, or what was said is being recorded."""
        return self._busy or self.planned is None or self.planned.quick

    def body(self) -> Iterable[Widget]:
        yield Status(id="status")
        yield FromPhone(id="phone", markup=False)
        yield ChainStrip(id="chain")
        with Container(id="desk"):
            yield StepCard(id="step")
            with Vertical(id="side"):
                yield Suspects(id="suspects")
                yield Trail(id="trail")
        yield Line(id="recheck")
        yield Line(id="told")

    def on_mount(self) -> None:
        begun = all(isinstance(event, (Opened, Recalled)) for event in self.call.events)
        self.show_call("" if begun else f"Taken up where it stopped. {not_known(self.call)}".strip())

    # --- showing the call ----------------------------------------------------------------------------------

    def show_call(self, told: str = "") -> None:
        """Show the call as it now stands, and work out what comes next."""
        self._busy = False
        self._turn += 1
        self.planned = None
        before = dict(self.view.workings) if self.view else {}
        try:
            self.view = view = self.sitting.view()
        except Exception as error:
            # Whatever the reasoning stumbles over, the call is kept and its last event can be undone.
            self._step.wait(f"This could not be worked out: {sentence_of(error)} Undo (u) undoes the last thing said.")
            return
        self.crumb = f"{view.where} · {view.complaint}"
        self.query_one(Suspects).show(view.suspects, view.suspects_title, view.ahead)
        self.query_one(Trail).items = view.trail
        self.query_one(ChainStrip).chain = view.chain
        worked = [f"Worked out: {working}" for check, working in view.workings if before.get(check) != working]
        self.query_one(FromPhone).show(view.phone)
        self.query_one("#recheck", Line).say(see_again(self.desk.trees, view.rechecks))
        self._tell(told, *(worked if told else ()), self._doubt(view))
        self._show_standing()
        self._think()

    def _doubt(self, view: CallView) -> str:
        check = self.desk.trees.checks.get(view.doubtful)
        again = f"Answers sit ill together. Look again ({key_for('answers')})"
        sentence = one_line(f"{again}: {check.text}") if check else ""
        return fit(plain(sentence), max(self.size.width - 2, 40)).plain

    def _tell(self, *sentences: str) -> None:
        self.tell("\n".join(one_line(sentence) for sentence in sentences if sentence))

    def _show_standing(self) -> None:
        if self.view is None:
            return
        saver, planned = self.in_hand.saver, self.planned
        left = planned.step.expected_minutes_left if planned and not planned.quick else None
        interval = planned.step.interval if planned else (0.0, 0.0)
        standing = Standing(self.view.phase, self.view.energy, left, interval, len(saver.waiting), saver.safe)
        self.query_one(Status).standing = standing

    # --- working out the next step -------------------------------------------------------------------------

    @property
    def _step(self) -> StepCard:
        return self.query_one(StepCard)

    def _think(self) -> None:
        self._asked_at = self.desk.now()
        self._stand_in = None
        self._step.wait()
        self._think_in_thread(self._turn)
        self.set_timer(_PATIENCE, partial(self._grow_impatient, self._turn))

    @work(thread=True, exclusive=True, group="think", exit_on_error=False)
    def _think_in_thread(self, turn: int) -> None:
        # Made here and not given to the worker, which would hold it, and all that it worked out, for long.
        sitting = self.sitting.twin()
        for quick in (True, False):
            if turn != self._turn:
                return
            try:
                self.post_message(self.Worked(turn, sitting.put(quick)))
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
        elif event.put is not None and event.put.planned.quick:
            self._stand_in = event.put
            if self.desk.now() - self._asked_at >= _PATIENCE:
                self._show_step(event.put)
        elif event.put is not None:
            self._show_planned(event.put)

    def _grow_impatient(self, turn: int) -> None:
        if turn == self._turn and self._stand_in is not None and self.card is None and not self._busy:
            self._show_step(self._stand_in)

    def _show_planned(self, put: Put) -> None:
        """The better step takes the stand-in's place, unless it is the same or one has begun to answer that."""
        card, better = self.card, put.planned
        if card is None or self.planned is None:
            self._show_step(put)
        elif (card.kind, card.id) == (put.card.kind, put.card.id):
            self.planned = better
        elif self._step.begun:
            left, interval = better.step.expected_minutes_left, better.step.interval
            step = replace(self.planned.step, expected_minutes_left=left, interval=interval)
            self.planned = replace(better, step=step)
        else:
            self._show_step(put)
        self._show_standing()

    def _show_step(self, put: Put) -> None:
        self.planned = put.planned
        self._shown_at = self.desk.now()
        self._step.show(put.card, self.call)
        self._show_standing()

    @on(StepCard.Laid)
    def _make_room(self, event: StepCard.Laid) -> None:
        """Where the card needs the rows of the suspects below it, these give way; F3 has them."""
        side = self.query_one("#side")
        rows = side.styles.height.value if side.styles.height is not None else 0
        side.display = self.has_class("-wide") or event.rows + rows <= self.query_one("#desk").size.height
