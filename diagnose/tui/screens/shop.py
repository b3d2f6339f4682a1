"""The shop's figures, to read and to save; and what they propose for the numbers in the trees, accepted one by one."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date
from functools import partial
from pathlib import Path

from textual import work

from diagnose.calls.document import Document
from diagnose.calls.store import Store
from diagnose.knowledge.learned import Change, read_learned
from diagnose.knowledge.load import learned_file, load_trees
from diagnose.knowledge.model import Trees
from diagnose.knowledge.problems import TreeError
from diagnose.learning import learn
from diagnose.learning.paper import shop_document
from diagnose.learning.records import Lessons
from diagnose.learning.shop import Shop, shop
from diagnose.learning.unlisted import Lot
from diagnose.tui import actions
from diagnose.tui.saver import sentence_of
from diagnose.tui.screens.choosing import ChoicePage, lettered
from diagnose.tui.screens.page import ListPage
from diagnose.tui.screens.report import SavedPage
from diagnose.tui.text import plain
from diagnose.tui.widgets.paragraphs import BLANK, paragraph
from diagnose.tui.widgets.pick_list import Row, heading

_FROM_NOW = "It holds from the next start of the program on."


class ShopPage(SavedPage[None]):
    """What the closed calls come to. It is counted behind the screen."""

    place, still = actions.SHOP, "Counting …"
    TITLE = "The shop"
    file_name = "shop"
    _shop: Shop | None = None

    def on_mount(self) -> None:
        # The base class's own is called besides.
        self._count()

    @work(exclusive=True)
    async def _count(self) -> None:
        store, trees = await self.store_of_calls(), self.desk.trees
        self._shop = await self.worked_out(lambda: shop(trees, _lessons(store, trees))) if store is not None else None
        self.still = ""
        self.paint()

    def document(self) -> Document | None:
        return shop_document(self._shop) if self._shop is not None else None

    def action_go_on(self) -> None:
        self.app.push_screen(LearnedPage())


class LearnedPage(ListPage[None]):
    """Proposals first, then what is untrue in the trees or not in them, then what was accepted. Enter opens one."""

    TITLE = "diagnose › What closed calls propose"
    hint = "Type a cause, a check or a repair"
    _learnt: learn.Learnt | None = None
    _written: Trees

    @work(exclusive=True)
    async def on_mount(self) -> None:
        self.tell("Counting …")
        store = await self.store_of_calls()
        learnt = await self.worked_out(lambda: self._learn(store)) if store is not None else None
        if learnt is not None:
            self._learnt, self._written = learnt
            self._show()

    def _learn(self, store: Store) -> tuple[learn.Learnt, Trees]:
        written = load_trees(self.desk.settings.trees or None)
        return learn.learn(written, _lessons(store, self.desk.trees)), written

    @property
    def _file(self) -> Path:
        return learned_file(self.desk.settings.trees or None)

    def _show(self, sentence: str = "") -> None:
        if self._learnt is None:
            return
        try:
            accepted = read_learned(self._file)
        except TreeError as error:
            self.tell(sentence_of(error))
            return
        trees, found = self._written, self._learnt.proposals
        proposed = learn.still_to_review(found, accepted, trees)
        sorts = [[each for each in proposed if each.what == what] for what in dict.fromkeys(p.what for p in proposed)]
        rows = [row for sort in sorts for row in self._of_sort(sort)] or [heading("PROPOSED", 0)]
        by_hand = partial(self.tell, "Look into its entry in the trees: a person has to write this one anew.")
        rows.append(heading("NOT TO BE BELIEVED", 0))
        rows += [_row(f"flag:{n}", learn.flag_in_words(trees, each), by_hand) for n, each in enumerate(found.flags)]
        rows.append(heading("CAUSES IN NO TREE", 0))
        for n, lot in enumerate(self._learnt.lots):
            rows.append(_row(f"lot:{n}", f"{learn.lot_in_words(lot)} {lot.words}", partial(self._read, lot)))
        rows.append(heading("ACCEPTED", 0))
        for n, held in enumerate(accepted.changes):
            rows.append(_row(f"held:{n}", learn.change_in_words(trees, held), partial(self._offer_back, held)))
        self.pick_list.show(rows)
        calls = f"{self._learnt.calls} closed calls with a cause to their name"
        self.tell(sentence or f"{calls}: {len(proposed)} changes proposed, {len(accepted.changes)} accepted.")

    def _of_sort(self, changes: Sequence[Change]) -> list[Row]:
        """Changes of one sort, and all of them at once where they are several."""
        what = changes[0].what
        rows = [heading(f"PROPOSED: {what.upper()}", 0)]
        for n, change in enumerate(changes):
            text = learn.change_in_words(self._written, change)
            rows.append(_row(f"propose:{what}:{n}", text, partial(self._offer, [change])))
        if len(changes) > 1:
            rows.append(_row(f"every:{what}", f"All {len(changes)} of “{what}”", partial(self._offer, changes)))
        return rows

    def _read(self, lot: Lot) -> None:
        words = [paragraph(learn.lot_in_words(lot)), *(paragraph(f"  {line}", later="    ") for line in lot.told())]
        words += [BLANK, paragraph(learn.FOR_A_LOT), BLANK, *map(paragraph, lot.skeleton(self._written).splitlines())]
        self.app.push_screen(ChoicePage("Calls alike, their cause in no tree", words, lettered([("back", "Back")])))

    def _offer(self, changes: Sequence[Change]) -> None:
        by, written = self.desk.settings.by.strip(), self._written
        if not by:
            self.tell("Say first who you are: diagnose settings by='A. Example'")
            return
        words = [learn.change_in_words(written, change) for change in changes]
        words.append(f"Accepted by {by}. {_FROM_NOW}")
        accepting = "Accept it" if len(changes) == 1 else f"Accept all {len(changes)}"
        accept = partial(learn.accept, self._file, written, changes, by, date.today())
        self._ask("What closed calls propose", words, accepting, "Leave the trees as they are", "Accepted.", accept)

    def _offer_back(self, change: Change) -> None:
        words = [learn.change_in_words(self._written, change), f"Accepted by {change.by}, {change.on}."]
        undo = partial(learn.take_back, self._file, change)
        self._ask("Accepted before", words, "Undo it", "Leave it", "Undone.", undo)

    @work(exclusive=True, group="asking")
    async def _ask(
        self, crumb: str, words: Sequence[str], yes: str, no: str, said: str, change: Callable[[], object]
    ) -> None:
        """``change`` something in the file once somebody says ``yes``, and say so."""
        page = ChoicePage(crumb, [*map(paragraph, words)], lettered([("yes", yes), ("", no)]))
        if not await self.app.push_screen_wait(page):
            return
        try:
            change()
        except OSError as error:
            self.tell(f"{self._file} cannot be written: {error.strerror}.")
        else:
            self._show(f"{said} {_FROM_NOW}")


def _lessons(store: Store, trees: Trees) -> Lessons:
    """What the closed calls teach, level with the store."""
    lessons = Lessons.of(store)
    lessons.catch_up(trees)
    return lessons


def _row(name: str, text: str, does: Callable[[], object]) -> Row:
    return Row(name, plain(f"  {text}"), does=does)
