"""The interview: what to do next, why, what is likely, and where the call stands.

``CallPage`` shows it; here is what can be said. Every answer is recorded first and painted after.
"""

from __future__ import annotations

from collections.abc import Callable

from textual import events, on, work

from diagnose.calls.words import Told, title
from diagnose.knowledge.model import ANY
from diagnose.sitting.cards import LEAVE_REASON, state_card
from diagnose.sitting.choices import Choice
from diagnose.sitting.course import NEEDS
from diagnose.sitting.say import Answer, AnyAct, Close, Enter, GoTo, Note, Undo, chosen, going_to, later_of
from diagnose.sitting.telling import chain, history, way_so_far, why
from diagnose.tui.desk import stated_of
from diagnose.tui.rows import known_rows, other_rows, proof_rows, repair_rows
from diagnose.tui.saver import NotSaved, sentence_of
from diagnose.tui.screens.answers import AnswerPage, Answers
from diagnose.tui.screens.call_page import CallPage
from diagnose.tui.screens.choosing import CardPage, ChoicePage, PickPage, lettered
from diagnose.tui.screens.door import Door
from diagnose.tui.screens.evidence import EvidencePage
from diagnose.tui.screens.page import ReadingPage
from diagnose.tui.screens.saving import QuitUnsaved
from diagnose.tui.screens.sentence import SentencePage
from diagnose.tui.widgets.choices import Choices
from diagnose.tui.widgets.paragraphs import paragraph, told_paragraphs
from diagnose.tui.widgets.reading import Reading

# Work is not done in the moment its card appears: a key that bounces must not pass a row of proofs.
_WORK_TAKES = 4
TOO_QUICK = "That key came too soon to be an answer. Press it again if it is one."


class Interview(CallPage):
    """One call, from the first question to the closed record. Dismissed when its user goes back to the start."""

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
        self._step.press(event.character)

    @on(Choices.Chosen)
    def _chosen(self, event: Choices.Chosen) -> None:
        card, choice = self.card, event.choice
        if self._busy or card is None:
            return
        if choice.opens:
            self._open(choice)
        elif choice.asks:
            self._say_in_words(choice.label, choice.asks, lambda text: chosen(card, choice.name, text))
        else:
            self.say(chosen(card, choice.name))

    def _open(self, choice: Choice) -> None:
        openers: dict[str, Callable[[], object]] = {
            "instead": self.action_another_way,
            "known": self.action_known,
            "repairs": self.action_repair,
            "report": self.action_report,
            "keep": self._keep_door,
            "door": self.action_door,
            "start": self.action_back,
            "again": lambda: self.answer(choice.name, "correction"),
        }
        openers[choice.opens]()

    def _keep_door(self) -> None:
        from diagnose.calls.doors import Doors
        from diagnose.sitting.door_record import kept_in_words

        if self.desk.store is None:
            self._tell(f"Nothing can be kept. {self.desk.store_problem}".strip())
            return
        try:
            self._tell(kept_in_words(Doors.of(self.desk.store).keep_from(self.call.state, self.desk.settings.by)))
        except Exception as error:
            self._tell(sentence_of(error))

    @on(Reading.Taken)
    def _read(self, event: Reading.Taken) -> None:
        if self.card is not None and not self._busy:
            self.say(Answer(check=self.card.id, text=event.text))

    def say(self, act: AnyAct) -> None:
        """Record what is said, then show what follows from it."""
        self._busy = True
        self.run_worker(self._said(act), group="say")

    async def _said(self, act: AnyAct) -> None:
        told = await self.desk.say(self.in_hand, act)
        if told.refused:
            self._busy = False
            self._step.say(f"✗ {told.refused}")
            self._show_standing()
        else:
            self.show_call(told.sentence)

    @work(exclusive=True, group="page")
    async def _say_in_words(self, crumb: str, ask: str, act: Callable[[str], AnyAct]) -> None:
        """Say something that takes a sentence; what is refused stays to be mended."""
        sentences: list[str] = []

        async def keep(text: str) -> str:
            told = await self.desk.say(self.in_hand, act(text))
            sentences.append(told.sentence)
            return told.refused

        if await self.app.push_screen_wait(SentencePage(f"Call › {crumb}", ask, keep)):
            self.show_call(sentences[-1])

    # --- actions -------------------------------------------------------------------------------------------

    def action_undo(self) -> None:
        if not self._busy:
            self.say(Undo())

    def action_later(self) -> None:
        if self.planned is not None and not self._busy:
            self.say(later_of(self.planned))

    def _is_closed(self) -> bool:
        closed = self.call.state.outcome is not None
        if closed:
            self._step.say("The call is closed. Go on with it first (2).")
        return closed

    def _read_told(self, crumb: str, told: list[Told]) -> None:
        self.app.push_screen(ReadingPage(f"Call › {crumb}", told_paragraphs(told)))

    def action_why(self) -> None:
        if self.planned is not None:
            self._read_told("Why this next?", why(self.sitting.twin().call, self.planned, self.desk.settings.units))

    def told_where(self) -> list[Told]:
        return self._step.told_where()

    def action_history(self) -> None:
        self._read_told("Every entry", history(self.call))

    def action_evidence(self) -> None:
        if self.view is not None and self.view.suspects:
            self.app.push_screen(EvidencePage(self.call, self.view))

    def action_map(self) -> None:
        self._read_told("Map of the way so far", way_so_far(self.call, self.sitting.view()))

    def action_chain(self) -> None:
        self._read_told("The chain of functions", chain(self.call))

    def action_report(self) -> None:
        from diagnose.tui.screens.report import ReportPage

        self.app.push_screen(ReportPage(self.call, self.in_hand.saver.call_id))

    @work(exclusive=True, group="page")
    async def action_back(self) -> None:
        saver = self.in_hand.saver
        leave = "safe" if saver.safe else await self.app.push_screen_wait(QuitUnsaved(saver))
        if leave:
            self.dismiss(None)

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
        if not self._is_closed() and await self.app.push_screen_wait(Answers(self.in_hand)):
            self.show_call("Changed.")

    @work(exclusive=True, group="page")
    async def action_known(self) -> None:
        if self._is_closed():
            return
        page = PickPage("Call › I already know something", known_rows(self.sitting), "Type a word of what it is about")
        check = await self.app.push_screen_wait(page)
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
        if told := await self.app.push_screen_wait(AnswerPage(self.in_hand, check, mode, self.desk.settings.units)):
            self.show_call(told)

    @work(exclusive=True, group="page")
    async def _pick(self, page: PickPage, act: Callable[[str], AnyAct]) -> None:
        picked = await self.app.push_screen_wait(page)
        if picked:
            await self._said(act(picked))

    def action_repair(self) -> None:
        if not self._is_closed():
            hint = "Type a word of the repair or of the cause"
            ways = self.sitting.repairs()
            ask = NEEDS if any(way.needs for way in ways) else ""
            page = PickPage("Call › Go to a repair", repair_rows(ways), hint, ask=ask)
            self._pick(page, lambda remedy: GoTo(kind="remedy", step=remedy))

    def action_another_way(self) -> None:
        planned = self.planned
        if self._is_closed() or planned is None or planned.quick:
            return
        others = self.sitting.instead(planned)
        if not others:
            self._step.say("There is no other step to choose here.")
            return
        steps = {f"{other.kind}:{other.id}": other for other in others}
        ask = "The step is put off until there is nothing better. What instead?"
        page = PickPage("Call › Another way", other_rows(others), ask=ask)
        self._pick(page, lambda name: going_to(steps[name], planned))

    def action_proofs(self) -> None:
        if not self._is_closed():
            ask = "What must pass before the door returns to service. Enter goes to it."
            page = PickPage("Call › Proofs", proof_rows(self.sitting), ask=ask)
            self._pick(page, lambda proof: GoTo(kind="proof", step=proof))

    @work(exclusive=True, group="page")
    async def action_energy(self) -> None:
        if self._is_closed():
            return
        trees, crumb = self.call.trees, "Call › State of the door"
        ask = paragraph((f"The door is now: {title(trees, 'energy', self.call.energy)}. Into which state?", "bold"))
        states = [(each.id, each.title) for each in trees.energy.values() if each.id not in (ANY, self.call.energy)]
        state = await self.app.push_screen_wait(ChoicePage(crumb, [ask], lettered(states)))
        if state and await self.app.push_screen_wait(CardPage(crumb, self.call, state_card(self.call, state))):
            await self._said(Enter(energy=state))

    def action_note(self) -> None:
        ask = "What should the next person know that no check asks for?"
        self._say_in_words("Note", ask, lambda text: Note(text=text))

    def action_leave(self) -> None:
        if not self._is_closed():
            ask = f"{LEAVE_REASON} Lock and tag it so that nobody can run it, and tell those who use it."
            close = lambda text: Close(outcome="left out of service", reason=text)  # noqa: E731
            self._say_in_words("Leave out of service", ask, close)

    @work(exclusive=True, group="page")
    async def action_door(self) -> None:
        if self._is_closed():
            return
        before = len(self.call.events)
        await self.app.push_screen_wait(Door(stated_of(self.call), in_hand=self.in_hand))
        if len(self.call.events) > before:
            self.show_call("The door was corrected.")
