"""The shop's figures, to read and to save."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from textual.widget import Widget

from diagnose.calls.store import Store
from diagnose.learning.paper import as_html, in_lines
from diagnose.learning.records import Lessons
from diagnose.learning.shop import Shop, shop
from diagnose.tui import actions
from diagnose.tui.screens.learned import LearnedPage
from diagnose.tui.screens.report import SavedPage
from diagnose.tui.widgets.paragraphs import Paragraphs, paragraph, told_paragraphs


class ShopPage(SavedPage[None]):
    """What the closed calls come to. It is counted behind the screen."""

    place = actions.SHOP
    file_name = "shop"

    def __init__(self) -> None:
        super().__init__("The shop")
        self._shop: Shop | None = None

    def shown(self) -> Iterable[Widget]:
        yield Paragraphs([paragraph("Counting …")])

    def on_mount(self) -> None:
        super().on_mount()
        self.run_worker(self._count(), exclusive=True)

    async def _count(self) -> None:
        store = await self.store_of_calls()
        self._shop = await self.worked_out(lambda: self._figures(store)) if store is not None else None
        lines = in_lines(self._shop) if self._shop is not None else []
        self.query_one(Paragraphs).show(told_paragraphs(lines))

    def _figures(self, store: Store) -> Shop:
        lessons = Lessons.of(store)
        lessons.catch_up(self.desk.trees)
        return shop(self.desk.trees, lessons)

    def forms(self) -> dict[str, Callable[[], str | bytes]]:
        shop = self._shop
        if shop is None:
            return {}
        return {
            ".html": lambda: as_html(shop),
            ".txt": lambda: "\n".join(line.text for line in in_lines(shop)) + "\n",
        }

    def action_go_on(self) -> None:
        self.app.push_screen(LearnedPage())
