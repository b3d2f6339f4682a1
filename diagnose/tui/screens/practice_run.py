"""One practice, and a walk that is practised: what happened so far, and what the trainee does next."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from functools import partial

from textual import events, on, work
from textual.containers import VerticalScroll
from textual.widget import Widget
from textual.widgets import Static

from diagnose.calls.call import Call
from diagnose.calls.document import Document
from diagnose.calls.words import Told, cautions_of, title
from diagnose.knowledge.model import Check, Remedy, Task, Trees
from diagnose.knowledge.words import minutes
from diagnose.practice import acts, telling
from diagnose.practice.acts import AnyAct
from diagnose.practice.debrief import Debrief
from diagnose.practice.debriefing import debriefing
from diagnose.practice.desk import Desk, Sitting
from diagnose.practice.done import Done
from diagnose.sitting.cards import LEAVE_REASON
from diagnose.sitting.choices import Choice
from diagnose.sitting.places import has_place, where
from diagnose.sitting.practised import ELSE, act_of, act_on, jobs_to_choose, practice_card
from diagnose.tui import actions
from diagnose.tui.saver import sentence_of
from diagnose.tui.screens.choosing import ChoicePage, PickPage, choose_state, lettered
from diagnose.tui.screens.page import Page, ReadingPage
from diagnose.tui.screens.report import SavedPage
from diagnose.tui.screens.sentence import SentencePage
from diagnose.tui.text import assemble, one_line, plain
from diagnose.tui.widgets.card_layout import where_hint
from diagnose.tui.widgets.cautions import caution_lines
from diagnose.tui.widgets.choices import Choices
from diagnose.tui.widgets.line import Line
from diagnose.tui.widgets.paragraphs import BLANK, Paragraph, Paragraphs, paragraph, told_paragraphs
from diagnose.tui.widgets.pick_list import Row, heading
from diagnose.tui.widgets.step_card import StepCard

WAYS = (
    ("look", "Look or measure"),
    ("mend", "Repair"),
    ("try", "Try the door"),
    ("prove", "Prove"),
    ("state", "Change its state"),
    ("call_in", "Have somebody come"),
    ("found", "What you found"),
    ("hint", "Hint"),
    ("close", "Close the call"),
    ("door", "The door again"),
)
# What a walk that is practised has besides.
_MORE = (("jobs", "Go to another job of the walk"), ("so far", "What happened so far"))
_KEYS = "1234567890"
_LOOKS = {"hurt": "bold $text-error", "hint": "$text-accent", "note": "$text-muted", "time": "$text-muted"}


class _StepPage(ChoicePage):
    """A step: its cautions, what it is and how it is done, and what can be done about it."""

    def __init__(self, crumb: str, call: Call, kind: str, step: Task, ways: Iterable[tuple[str, str]]) -> None:
        words = told_paragraphs(telling.step(call.trees, step))
        if has_place(call, kind, step.id):
            words.append(paragraph((where_hint(), "$text-muted")))
        super().__init__(crumb, words, lettered(ways), caution_lines(cautions_of(call.trees, step)))
        self._step = (call, kind, step.id)

    def told_where(self) -> list[Told]:
        return where(*self._step, self.size.width - 3)


class PracticeRun(Page[None]):
    """Dismissed when its user leaves; what was done is on the disk, and is gone on with another time."""

    place = actions.PRACTICE
    way_on = "practise --plain"

    def __init__(self, desk: Desk, sitting: Sitting, told: str = "") -> None:
        super().__init__(f"Practise › {one_line(sitting.session.scenario.title)}")
        self._desk, self.sitting, self._told = desk, sitting, told
        self.session = sitting.session

    def body(self) -> Iterable[Widget]:
        yield Static(id="standing", markup=False)
        yield VerticalScroll(Paragraphs(id="acts"), id="happened", can_focus=False)
        yield Line(id="told")
        yield self.offered()

    def offered(self) -> Widget:
        """What can be done, below all that was."""
        return Choices()

    def on_mount(self) -> None:
        self._offer()
        self._show(self._told)
        if self.session.is_over:
            self._finish()

    def _offer(self) -> None:
        choices = self.query_one(Choices)
        choices.show(tuple(Choice(key, text, name) for key, (name, text) in zip(_KEYS, WAYS, strict=True)))
        choices.focus(scroll_visible=False)

    @property
    def trees(self) -> Trees:
        return self.session.trees

    # --- showing -------------------------------------------------------------------------------------------

    def _show(self, told: str = "") -> None:
        session = self.session
        state = self.trees.energy[session.energy].title
        money = f"{self.trees.costs.currency}{session.money:.0f}"
        self.query_one("#standing", Static).update(
            assemble((state, "bold"), f" · {minutes(session.clock)} · {money} of parts")
        )
        self.query_one("#acts", Paragraphs).show(self._so_far())
        self.tell(told)
        self.call_after_refresh(self._to_the_end)

    def _so_far(self) -> list[Paragraph]:
        """The door as it was described, and every act as it went."""
        opening = told_paragraphs(telling.opening(self.trees, self.session.scenario))
        return [*opening, *(line for done in self.session.done for line in (BLANK, *done_paragraphs(done)))]

    def _to_the_end(self) -> None:
        if self.session.done:
            self.query_one("#happened", VerticalScroll).scroll_end(animate=False)

    # --- what is chosen ------------------------------------------------------------------------------------

    def on_key(self, event: events.Key) -> None:
        if event.character and self._press(event.character):
            event.stop()

    def _press(self, key: str) -> bool:
        return self.query_one(Choices).press(key)

    def action_read_on(self) -> None:
        self._scroll(1)

    def action_read_back(self) -> None:
        self._scroll(-1)

    def _scroll(self, pages: int) -> None:
        happened = self.query_one("#happened", VerticalScroll)
        happened.scroll_relative(y=pages * max(happened.size.height - 1, 1), animate=False)

    @on(Choices.Chosen)
    def _chosen(self, event: Choices.Chosen) -> None:
        self._choose_way(event.choice)

    def _choose_way(self, choice: Choice) -> None:
        self._take(choice.name)

    def _take(self, name: str) -> None:
        """One of the ways, each a method of its name."""
        getattr(self, f"_{name}")()

    def _try(self) -> None:
        self._do(acts.TryDoor())

    def _do(self, act: acts.AnyAct) -> None:
        if wrong := self._done(act):
            self._show(wrong)

    def _done(self, act: acts.AnyAct) -> str:
        """Do it and show what came of it; gives back why not, or nothing."""
        try:
            self.session.do(act)
        except Exception as error:
            # Refused, or not written down: then nothing has happened.
            return sentence_of(error)
        self._show()
        if self.session.is_over:
            self._finish()
        return ""

    async def _do_in_words(self, crumb: str, ask: str, hint: str, act: Callable[[str], acts.AnyAct]) -> None:
        """What takes a sentence; where it is refused that stays to be mended."""
        page = SentencePage(f"Practise › {crumb}", ask, lambda text: self._done(act(text)), hint)
        await self.app.push_screen_wait(page)

    @work(exclusive=True, group="practice")
    async def _look(self) -> None:
        rows = step_rows(self.trees, self.session.checks())
        await self._pick_and_do("Look or measure", rows, "Type a word of what you want to find out")

    @work(exclusive=True, group="practice")
    async def _mend(self) -> None:
        rows = step_rows(self.trees, self.session.remedies())
        await self._pick_and_do("Repair", rows, "Type a word of what you want to do")

    @work(exclusive=True, group="practice")
    async def _prove(self) -> None:
        rows: list[Row] = []
        for proof in self.session.proofs():
            said = self.session.said_of(proof.id)
            rows.append(Row(f"proof:{proof.id}", assemble((f"{said:<12}  ", "bold"), one_line(proof.title)), set_in=14))
        await self._pick_and_do("Prove", rows, "Type a word of the proof")

    async def _pick_and_do(self, crumb: str, rows: Sequence[Row], hint: str) -> None:
        """Pick a step, read its cautions and how it is done, and do it as the door stands, or leave it."""
        picked = await self.app.push_screen_wait(PickPage(f"Practise › {crumb}", rows, hint))
        if not picked:
            return
        kind, _, identity = picked.partition(":")
        step = self.trees.task(kind, identity)
        assert step is not None
        while True:
            here = self.trees.energy[self.session.energy].title
            ways = [
                ("do", f"Do it, as the door stands: {here}"),
                ("state", "Change its state first"),
                ("leave", "Leave it"),
            ]
            page = _StepPage(f"Practise › {crumb}", self.session.call, kind, step, ways)
            chosen = await self.app.push_screen_wait(page)
            if chosen == "do":
                self._do(act_on(step))
            if chosen != "state":
                return
            await self._change_state()

    @work(exclusive=True, group="practice")
    async def _state(self) -> None:
        await self._change_state()

    async def _change_state(self) -> None:
        state = await choose_state(self.app, "Practise › State of the door", self.trees, self.session.energy)
        if state:
            self._do(acts.Enter(energy=state))

    async def _choose(self, crumb: str, ask: str, ways: Iterable[tuple[str, str]]) -> str | None:
        """One of a few things; ``None`` where none was chosen."""
        page = ChoicePage(f"Practise › {crumb}", [paragraph((ask, "bold"))], lettered(ways))
        return await self.app.push_screen_wait(page)

    @work(exclusive=True, group="practice")
    async def _call_in(self) -> None:
        absent = self.session.absent()
        picked = await self._choose("Have somebody come", "Who?" if absent else "Everybody is here.", absent.items())
        if picked:
            self._do(acts.CallIn(person=picked))

    @work(exclusive=True, group="practice")
    async def _found(self) -> None:
        rows = [Row(name, plain(one_line(text))) for name, text in self.session.found().items()]
        ask = "Enter on one of them withdraws it: it counts no more." if rows else "Nothing yet."
        page = PickPage("Practise › What you found", rows, "Type a word of it", ask=ask)
        picked = await self.app.push_screen_wait(page)
        if picked:
            self._do(acts.TakeBack(check=picked))

    @work(exclusive=True, group="practice")
    async def _hint(self) -> None:
        prices = {about: f"{price:.0f} points" for about, price in acts.HINT_PRICE.items()}
        ways = [
            ("next", f"What would be best next: {prices['next']}"),
            ("likely", f"The likeliest causes so far: {prices['likely']}"),
        ]
        picked = await self._choose("Hint", "What do you want to know?", ways)
        if picked:
            self._do(acts.AskFor(about="next" if picked == "next" else "likely"))

    @work(exclusive=True, group="practice")
    async def _close(self) -> None:
        ends = self.session.call.ends
        ways = [("return", ends.capitalize()), ("leave", "Left out of service"), ("", "Not yet")]
        picked = await self._choose("Close", "Close the call as:", ways)
        if picked == "return":
            self._do(acts.Finish(outcome=ends))
        elif picked == "leave":
            leave = lambda reason: acts.Finish(outcome="left out of service", reason=reason)  # noqa: E731
            await self._do_in_words("Close", LEAVE_REASON, "the reason", leave)

    def _door(self) -> None:
        lines = told_paragraphs(telling.opening(self.trees, self.session.scenario))
        self.app.push_screen(ReadingPage("Practise › The door", lines))

    def _finish(self) -> None:
        self.tell("The debriefing is being worked out.")
        self.query_one(Choices).show(())
        self._debrief()

    @work(exclusive=True, group="debrief")
    async def _debrief(self) -> None:
        found = await self.worked_out(lambda: self._desk.finish(self.sitting))
        if found is not None:
            await self.app.push_screen_wait(PracticeDebrief(found, self.sitting.id))
            self.dismiss(None)


class PracticeWalk(PracticeRun):
    """The last act above, the card below it; what else can be done in practice is behind the card's own choices."""

    def offered(self) -> Widget:
        return StepCard(id="card")

    @property
    def _step(self) -> StepCard:
        return self.query_one(StepCard)

    def _offer(self) -> None:
        """The card has what can be done."""

    def _show(self, told: str = "") -> None:
        super()._show(told)
        acts = [each for done in self.session.done[-1:] for each in done_paragraphs(done)]
        self.query_one("#acts", Paragraphs).show(acts)
        self.query_one("#happened").display = bool(acts)
        if not self.session.is_over:
            card = practice_card(self.session)
            if card != self._step.card:
                self._step.show(card, self.session.call)

    def told_where(self) -> list[Told]:
        return self._step.told_where()

    def _press(self, key: str) -> bool:
        return self._step.press(key)

    def _choose_way(self, choice: Choice) -> None:
        card = self._step.card
        if choice.opens == ELSE:
            self._else()
        elif card is not None and choice.asks:
            self._ask(choice.asks, partial(act_of, self.session, card, choice.name))
        elif card is not None:
            self._do(act_of(self.session, card, choice.name))

    @work(exclusive=True, group="practice")
    async def _ask(self, asks: str, act: Callable[[str], AnyAct]) -> None:
        """The words that a choice asks for."""
        await self._do_in_words("The walk", asks, "in a few words", act)

    @work(exclusive=True, group="else")
    async def _else(self) -> None:
        page = ChoicePage("Practise › Something else", [paragraph(("What?", "bold"))], lettered([*_MORE, *WAYS]))
        chosen = await self.app.push_screen_wait(page)
        if chosen == "jobs":
            await self._pick_job()
        elif chosen == "so far":
            self.app.push_screen(ReadingPage("Practise › What happened so far", self._so_far()))
        elif chosen:
            self._take(chosen)

    async def _pick_job(self) -> None:
        jobs = jobs_to_choose(self.session)
        rows = [Row(act.job, plain(one_line(text))) for act, text in jobs]
        picked = await self.app.push_screen_wait(PickPage("Practise › Jobs", rows, "Type a word of the job"))
        for act, _ in jobs:
            if act.job == picked:
                self._do(act)

    def _finish(self) -> None:
        self.tell("The debriefing is being worked out.")
        self._step.wait()
        self._debrief()


class PracticeDebrief(SavedPage[None]):
    """What a practice came to."""

    place = actions.REPORT

    def __init__(self, found: Debrief, identity: str) -> None:
        super().__init__("Practise › Debriefing")
        self._found, self.file_name = found, identity or "practice"

    def document(self) -> Document:
        return debriefing(self._found)


def done_paragraphs(done: Done) -> list[Paragraph]:
    """An act as it went: when, and what came of it."""
    lines = []
    for number, line in enumerate(done.lines):
        head = f"{done.clock:>4.0f} min  " if number == 0 else " " * 10
        sign = "! " if line.kind == "hurt" else ""
        lines.append(paragraph((head, "$text-muted"), (sign + line.text, _LOOKS.get(line.kind, "")), later=" " * 10))
    return lines


def step_rows(trees: Trees, steps: Sequence[Check] | Sequence[Remedy]) -> list[Row]:
    """Steps below headings by where one works from and the state the door is to be in; below these by their words."""
    groups: dict[tuple[int, int], list[Row]] = {}
    places, states = list(trees.access), list(trees.energy)
    for step in steps:
        kind, text = ("check", step.text) if isinstance(step, Check) else ("remedy", step.title)
        at = places.index(step.access) if step.access in places else -1
        words = f"{step.id} {' '.join(step.tool)}".replace("-", " ")
        group = groups.setdefault((at, states.index(step.energy) if step.energy in states else -1), [])
        group.append(Row(f"{kind}:{step.id}", plain(f"  {one_line(text)}"), words, title=text))
    rows: list[Row] = []
    for (at, state), group in sorted(groups.items()):
        place = title(trees, "access", places[at]) if at >= 0 else "anywhere"
        under = f"{place} · {title(trees, 'energy', states[state])}" if state >= 0 else place
        rows.append(heading(under.upper(), 0))
        rows += [replace(row, under=under) for row in sorted(group, key=lambda row: row.title.casefold())]
    return rows
