"""One practice, and a walk that is practised: what happened so far, and what the trainee does next."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from functools import partial

from textual import events, on, work
from textual.containers import VerticalScroll
from textual.widget import Widget
from textual.widgets import Static

from diagnose.calls.document import Document
from diagnose.calls.words import Told, title
from diagnose.knowledge.model import Task, Trees
from diagnose.knowledge.words import minutes
from diagnose.practice import acts, telling
from diagnose.practice.acts import AnyAct
from diagnose.practice.debrief import Debrief
from diagnose.practice.debriefing import debriefing
from diagnose.practice.desk import Desk
from diagnose.practice.done import Done
from diagnose.practice.session import Session
from diagnose.sitting.choices import Choice
from diagnose.sitting.practised import ELSE, Way, act_of, practice_card, step_text, ways
from diagnose.tui import actions
from diagnose.tui.saver import sentence_of
from diagnose.tui.screens.choosing import CardPage, ChoicePage, PickPage, lettered
from diagnose.tui.screens.page import Page, ReadingPage
from diagnose.tui.screens.report import SavedPage
from diagnose.tui.screens.sentence import SentencePage
from diagnose.tui.text import assemble, one_line, plain
from diagnose.tui.widgets.choices import Choices
from diagnose.tui.widgets.line import Line
from diagnose.tui.widgets.paragraphs import BLANK, Paragraph, Paragraphs, paragraph, told_paragraphs
from diagnose.tui.widgets.pick_list import Row, heading
from diagnose.tui.widgets.step_card import StepCard

# What is shown besides the ways of practice; on a walk, too.
_MORE = {"door": "The door again", "so far": "What happened so far"}
_KEYS = "1234567890"
_LOOKS = {"hurt": "bold $text-error", "hint": "$text-accent", "note": "$text-muted", "time": "$text-muted"}


class PracticeRun(Page[None]):
    """Dismissed when its user leaves; what was done is on the disk, and is gone on with another time."""

    place = actions.PRACTICE
    way_on = "practise --plain"

    def __init__(self, desk: Desk, session: Session, told: str = "") -> None:
        super().__init__(f"Practise › {one_line(session.scenario.title)}")
        self._desk, self.session, self._told = desk, session, told

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
        named = [*((name, way.title) for name, way in ways(self.session).items()), ("door", _MORE["door"])]
        choices.show(tuple(Choice(key, text, name) for key, (name, text) in zip(_KEYS, named, strict=True)))
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

    async def _do_in_words(self, crumb: str, ask: str, act: Callable[[str], acts.AnyAct]) -> None:
        """What takes a sentence; where it is refused that stays to be mended."""
        page = SentencePage(f"Practise › {crumb}", ask, lambda text: self._done(act(text)), "in a few words")
        await self.app.push_screen_wait(page)

    @work(exclusive=True, group="practice")
    async def _take(self, name: str) -> None:
        """One of the ways of practice, or something to be read."""
        if name in _MORE:
            opening = told_paragraphs(telling.opening(self.trees, self.session.scenario))
            read = opening if name == "door" else self._so_far()
            self.app.push_screen(ReadingPage(f"Practise › {_MORE[name]}", read))
        else:
            await self._go(ways(self.session)[name])

    async def _go(self, way: Way) -> None:
        """Choose what it is done with, read its card and say what it asks, or leave it."""
        crumb = f"Practise › {way.title}"
        picked = await self._picked(crumb, way) if way.ask else ""
        if picked is None:
            return
        while way.card is not None:
            chosen = await self.app.push_screen_wait(CardPage(crumb, self.session.call, way.card(picked)))
            if chosen == "state":
                await self._go(ways(self.session)["state"])
            elif chosen != "do":
                return
            else:
                break
        if ask := way.asks.get(picked):
            await self._do_in_words(way.title, ask, partial(way.act, picked))
        else:
            self._do(way.act(picked, ""))

    async def _picked(self, crumb: str, way: Way) -> str | None:
        ask = way.ask if way.items else way.none
        if not way.many:
            words = [paragraph((ask, "bold"))]
            return await self.app.push_screen_wait(ChoicePage(crumb, words, lettered(way.items.items())))
        rows = step_rows(self.trees, way.steps) or [
            Row(name, plain(one_line(text))) for name, text in way.items.items()
        ]
        return await self.app.push_screen_wait(PickPage(crumb, rows, "Type a word of it", ask=ask))

    def _finish(self) -> None:
        self.tell("The debriefing is being worked out.")
        self.query_one(Choices).show(())
        self._debrief()

    @work(exclusive=True, group="debrief")
    async def _debrief(self) -> None:
        found = await self.worked_out(lambda: self._desk.finish(self.session))
        if found is not None:
            await self.app.push_screen_wait(PracticeDebrief(found, self.session.id))
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
        await self._do_in_words("The walk", asks, act)

    @work(exclusive=True, group="else")
    async def _else(self) -> None:
        named = [*((name, way.title) for name, way in ways(self.session).items()), *_MORE.items()]
        page = ChoicePage("Practise › Something else", [paragraph(("What?", "bold"))], lettered(named))
        if chosen := await self.app.push_screen_wait(page):
            self._take(chosen)

    def _finish(self) -> None:
        self.tell("The debriefing is being worked out.")
        self._step.wait()
        self._debrief()


class PracticeDebrief(SavedPage[None]):
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


def step_rows(trees: Trees, steps: Sequence[Task]) -> list[Row]:
    """Steps below headings by where one works from and the state the door is to be in; below these by their words."""
    groups: dict[tuple[int, int], list[Row]] = {}
    places, states = list(trees.access), list(trees.energy)
    for step in steps:
        text = step_text(step)
        at = places.index(step.access) if step.access in places else -1
        words = f"{step.id} {' '.join(step.tool)}".replace("-", " ")
        group = groups.setdefault((at, states.index(step.energy) if step.energy in states else -1), [])
        group.append(Row(step.id, plain(f"  {one_line(text)}"), words, title=text))
    rows: list[Row] = []
    for (at, state), group in sorted(groups.items()):
        place = title(trees, "access", places[at]) if at >= 0 else "anywhere"
        under = f"{place} · {title(trees, 'energy', states[state])}" if state >= 0 else place
        rows.append(heading(under.upper(), 0))
        rows += [replace(row, under=under) for row in sorted(group, key=lambda row: row.title.casefold())]
    return rows
