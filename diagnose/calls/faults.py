"""What can go wrong with a store, told plainly. It loads no database, so that any face may name it."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from diagnose.calls.events import AnyEvent


class StoreError(Exception):
    """The store cannot be read or written; ``str`` says why and what to do. What it held before, it still holds."""


class ConnectionLost(StoreError):
    """The way to the database broke off; whether what was being written is there, nobody can say from here."""


class MovedOn(StoreError):
    """Somebody else has recorded something in the call since it was read: nothing was written, nothing is lost.

    ``there`` are the events it has now, where they were read.
    """

    def __init__(self, call_id: str, sequence: int, there: tuple[AnyEvent, ...] = ()) -> None:
        super().__init__(
            f"Call {call_id} was continued elsewhere: its event {sequence} is there already. "
            "Nothing of either is lost. Open the call again to go on from there."
        )
        self.there = there
