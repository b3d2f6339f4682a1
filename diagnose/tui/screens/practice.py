"""Practice, from the start: go on, what is advised, a door drawn by chance, a scenario of the list, or the record."""

from __future__ import annotations

import secrets
from collections.abc import Callable
from datetime import UTC, datetime
from functools import partial

from textual import work

from diagnose.calls.words import Told, title
from diagnose.knowledge.words import local_time
from diagnose.practice import telling
from diagnose.practice.desk import Desk
from diagnose.practice.drawing import Wish, draw_scenario
from diagnose.practice.library import load_library
from diagnose.practice.progress import Advice
from diagnose.practice.records import Records
from diagnose.practice.scenario import LEVELS, Level, Scenario, family_of
from diagnose.practice.session import Session
from diagnose.practice.trainer import class_view
from diagnose.tui.saver import sentence_of
from diagnose.tui.screens.choosing import ChoicePage, PickPage, lettered
from diagnose.tui.screens.page import ListPage, ReadingPage
from diagnose.tui.screens.practice_run import PracticeRun, PracticeWalk
from diagnose.tui.text import assemble, one_line, plain
from diagnose.tui.widgets.paragraphs import told_paragraphs
from diagnose.tui.widgets.pick_list import Row, heading

_MOST_OPEN = 3


class PracticeScreen(ListPage[None]):
    """What to practise. Made without arguments it offers everything; the rest says what to begin with."""

    way_on = "practise --plain"
    TITLE = "diagnose › Practise"
    hint = "Type a word of a scenario, of a family, or: draw, progress, class"

    def __init__(
        self,
        folder: str | None = None,
        trainee: str = "",
        scenario: str = "",
        wish: Wish | None = None,
        seed: int | None = None,
        hints: bool = True,
    ) -> None:
        super().__init__()
        self._folder, self._trainee, self._scenario = folder, trainee, scenario
        self._wish, self._seed, self._hints = wish, seed, hints
        self._desk: Desk | None = None
        self._advice: Advice | None = None
        self._left: list[str] = []

    @property
    def practice_desk(self) -> Desk:
        """The scenarios and the record, once they are read."""
        assert self._desk is not None
        return self._desk

    def on_mount(self) -> None:
        self.tell("Reading the scenarios.")
        self._open()

    def on_screen_resume(self) -> None:
        self.pick_list.clear()
        if self._desk is not None:
            self._read_record()

    @work(exclusive=True, group="practice")
    async def _open(self) -> None:
        """The scenarios and the record, read in a thread; without a store nothing is kept, and that is said."""
        await self.desk.store_tried.wait()
        read = await self.worked_out(self._read)
        if read is None:
            return
        self._desk, told = read
        self._show(told)
        if self._scenario or self._wish is not None:
            self._begin_wanted()

    def _read(self) -> tuple[Desk, str]:
        desk = self.desk
        library = load_library(desk.trees, self._folder)
        told = "" if desk.store is not None else f"Nothing will be kept. {desk.store_problem}".strip()
        records = Records.of(desk.store) if desk.store is not None else None
        practice_desk = Desk(desk.trees, library, records, self._trainee or desk.settings.by or "trainee")
        self._advice = practice_desk.advice(self._now())
        return practice_desk, told

    @work(exclusive=True, group="record")
    async def _read_record(self) -> None:
        self._advice = await self.worked_out(lambda: self.practice_desk.advice(self._now()))
        self._show()

    def _now(self) -> datetime:
        return self.desk.clock() if self.desk.clock is not None else datetime.now(UTC)

    def _show(self, told: str | None = None) -> None:
        """The list anew; what is told below it stays where nothing new is."""
        desk = self.practice_desk
        rows: list[Row] = []
        left = desk.unfinished()[:_MOST_OPEN]
        for practice in left:
            shown = assemble((practice.scenario.title, "bold"), f"  {local_time(practice.begun_at)}, {practice.id}")
            go_on = partial(self.sit_down, partial(desk.resume, practice), "Going on where it stopped.")
            rows.append(Row(f"resume:{practice.id}", shown, "go on open", does=go_on))
        if rows:
            rows.insert(0, heading("LEFT OPEN: Enter goes on where it stopped", 0))
        if self._advice is not None:
            rows.append(heading("NEXT FOR YOU", 0))
            advised = self._advice.scenario
            shown = assemble((advised.title, "bold"), f"  {one_line(self._advice.why)}")
            rows.append(Row("advice", shown, "next advised", does=partial(self._story, advised, None)))
        rows.append(heading("A DOOR DRAWN BY CHANCE", 0))
        rows.append(Row("draw", plain("Any door"), "draw chance random", does=partial(self._draw, Wish())))
        wish = plain("Say what it is to be like: family, difficulty, faults, caller")
        rows.append(Row("wish", wish, "draw chance", does=self._ask_wish))
        walks = [each for each in desk.library.scenarios.values() if each.walk]
        if walks:
            rows += [heading("A DOOR HALF INSTALLED, to be commissioned", 0), *map(self._row, walks)]
        for level in LEVELS:
            fitting = [each for each in desk.library.scenarios.values() if each.level == level and not each.walk]
            if fitting:
                rows.append(heading(f"SCENARIOS, {level.upper()}", 0))
                rows += [self._row(scenario) for scenario in fitting]
        rows.append(heading("THE RECORD", 0))
        progress = plain(f"Progress of {one_line(desk.trainee)}")
        rows.append(Row("progress", progress, "skills", does=self._open_progress))
        rows.append(Row("class", plain("The whole class, for a trainer"), "trainer", does=self._open_class))
        # What was just left open is at hand; else the cursor stays where it was.
        before, self._left = self._left, [practice.id for practice in left]
        self.pick_list.show(rows, f"resume:{left[0].id}" if left and self._left != before else None)
        if told is not None:
            self.tell(told)

    def _row(self, scenario: Scenario) -> Row:
        trees = self.desk.trees
        family = family_of(trees, scenario)
        walk = title(trees, "walks", scenario.walk) if scenario.walk else ""
        words = (
            f"{scenario.id} {scenario.level} {walk} {trees.families[family].title if family in trees.families else ''}"
        )
        shown = assemble((scenario.title, "bold"), f"  {one_line(scenario.site)}")
        return Row(f"scenario:{scenario.id}", shown, words, does=partial(self._story, scenario, None))

    def _begin_wanted(self) -> None:
        """What the command line asked for."""
        desk = self.practice_desk
        if self._wish is not None:
            self._draw(self._wish, self._seed)
        elif self._scenario in desk.library.scenarios:
            self._story(desk.library.scenarios[self._scenario], self._seed)
        else:
            self.tell(f"'{self._scenario}' is no scenario. Pick one of these.")
        self._wish, self._scenario = None, ""

    # --- drawing -------------------------------------------------------------------------------------------

    @work(exclusive=True, group="practice")
    async def _ask_wish(self) -> None:
        """One question after the other; Esc at any of them leaves it."""
        families = [(name, family.title) for name, family in self.desk.trees.families.items()]
        said: list[str] = []
        for ask, ways in (
            ("Of which family?", [("any", "Any family"), *families]),
            ("How hard?", [("any", "Any difficulty"), *((level, level.capitalize()) for level in LEVELS)]),
            ("How many faults?", [("1", "One fault"), ("2", "Two faults at once")]),
            ("What sort of caller?", [("any", "Either"), ("no", "A caller who is right"), ("yes", "Who is wrong")]),
        ):
            rows = [Row(name, plain(text)) for name, text in ways]
            picked = await self.app.push_screen_wait(PickPage("Practise › Draw", rows, "Type a word of it", ask=ask))
            if not picked:
                return
            said.append("" if picked == "any" else picked)
        family, level, faults, caller = said
        wanted: Level | None = next((each for each in LEVELS if each == level), None)
        misleading = caller == "yes" if caller else None
        wish = Wish(family=family, level=wanted, faults=int(faults), misleading=misleading)
        self._draw(wish)

    @work(exclusive=True, group="drawing")
    async def _draw(self, wish: Wish, seed: int | None = None) -> None:
        seed = secrets.randbelow(1_000_000) if seed is None else seed
        desk = self.practice_desk
        self.tell("A door is being broken for you.")
        scenario = await self.worked_out(lambda: draw_scenario(desk.trees, desk.library, seed, wish))
        if scenario is not None:
            self._story(scenario, seed)

    # --- beginning -----------------------------------------------------------------------------------------

    @work(exclusive=True, group="practice")
    async def _story(self, scenario: Scenario, seed: int | None) -> None:
        """The first screen of a scenario; from it one begins, with hints or without."""
        desk = self.practice_desk
        self.tell("")
        lines = telling.opening(desk.trees, scenario)
        if scenario.id.startswith("drawn-"):
            lines.append(Told("item", f"Drawn with seed {seed}: the same seed gives the same door."))
        ways = [("hints", "Begin; hints may be asked for, at a price"), ("none", "Begin without hints")]
        page = ChoicePage("Practise › Before you begin", told_paragraphs(lines), lettered(ways))
        chosen = await self.app.push_screen_wait(page)
        if chosen is not None:
            self.sit_down(lambda: desk.begin(scenario, seed, chosen == "hints" and self._hints), "")

    def sit_down(self, begin: Callable[[], Session], told: str) -> None:
        try:
            session = begin()
        except Exception as error:
            self.tell(sentence_of(error))
            return
        kind = PracticeWalk if session.scenario.walk else PracticeRun
        self.app.push_screen(kind(self.practice_desk, session, told))

    # --- the record ----------------------------------------------------------------------------------------

    def _open_progress(self) -> None:
        desk = self.practice_desk
        lines = telling.progress(desk.trees, desk.trainee, desk.progress(), desk.practices(), self._advice)
        self.app.push_screen(ReadingPage("Practise › Progress", told_paragraphs(lines)))

    def _open_class(self) -> None:
        desk = self.practice_desk
        practices = desk.records.practices() if desk.records is not None else []
        lines = telling.whole_class(class_view(practices))
        self.app.push_screen(ReadingPage("Practise › The class", told_paragraphs(lines)))
