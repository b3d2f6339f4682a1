"""Events go on the disk before they count. When that fails, the call is not lost: it can go on in memory."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from diagnose.calls.faults import MovedOn

if TYPE_CHECKING:
    from diagnose.calls.call import Call
    from diagnose.calls.events import AnyEvent
    from diagnose.calls.store import Store


class NotSaved(Exception):
    """An event could not be put on the disk, and so has not happened; ``str`` says why in a sentence."""


class Saver:
    """The recorder of one call. ``call_id`` is empty until the first event is kept.

    ``store`` is ``None`` where there is none to be had, for the reason ``problem``. Once ``go_on_without`` was
    called, events are held in ``waiting`` until ``save_now`` succeeds.
    """

    def __init__(self, store: Store | None, call_id: str = "", problem: str = "") -> None:
        self._store = store
        self._problem = problem
        self._keep: Callable[[AnyEvent], None] | None = None
        self._without = False
        self.call_id = call_id
        self.waiting: list[AnyEvent] = []

    @property
    def safe(self) -> bool:
        """Everything said is on the disk."""
        return not self.waiting and not (self._without and self._store is None)

    def go_on_without(self) -> None:
        self._without = True

    def __call__(self, event: AnyEvent) -> None:
        if self._without:
            self.waiting.append(event)
        else:
            self._put(event)

    def save_now(self) -> None:
        """Put on the disk what is waiting, oldest first. Raises ``NotSaved``."""
        while self.waiting:
            try:
                self._put(self.waiting[0])
            except MovedOn as moved:
                self._join(moved.there)
            else:
                self.waiting.pop(0)
        self._without = self._store is None and self._without

    def _join(self, there: tuple[AnyEvent, ...]) -> None:
        """Others went on with the call while it could not be saved: what waits is put after theirs."""
        from diagnose.calls.exchange import merge

        known = there[: self.waiting[0].sequence - 1]
        self.waiting, _, _ = merge(there, [*known, *self.waiting])

    def _put(self, event: AnyEvent) -> None:
        if self._store is None:
            raise NotSaved(self._problem or "There is no place to keep calls.")
        try:
            if self._keep is None:
                self.call_id = self.call_id or self._store.begin()
                self._keep = self._store.recorder(self.call_id)
            self._keep(event)
        except MovedOn:
            raise  # the disk is well: somebody else is in the call
        except Exception as error:
            # Whatever a disk or a database has to say, the call must live through it.
            raise NotSaved(sentence_of(error)) from error


@dataclass
class InHand:
    """A call that is worked on, and the recorder of its events."""

    call: Call
    saver: Saver


def sentence_of(error: BaseException) -> str:
    """An error in one line, for people: its own first line, or what kind it is."""
    lines = str(error).strip().splitlines()
    return lines[0][:300] if lines else type(error).__name__
