"""What looking over a set of trees came to the last time, kept so that only what has changed is looked at again."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any, TypeVar

import msgspec

from diagnose.knowledge.files import write_whole

_Result = TypeVar("_Result")


class Kept:
    """Results of work, each under a digest of all that it was made from, so that none of them can be stale.

    They are read from ``file`` and, with ``save``, written there, those alone that this run had a use for. Without a
    file all work is done.
    """

    def __init__(self, file: Path | None = None) -> None:
        self._file = file
        self._before: dict[bytes, bytes] = {}
        self._now: dict[bytes, bytes] = {}
        # What was digested, by identity; it is held on to, so that no other thing can have that identity.
        self._digests: dict[int, tuple[Any, bytes]] = {}
        if file is not None:
            try:
                self._before = msgspec.msgpack.decode(file.read_bytes(), type=dict[bytes, bytes])
            except (OSError, msgspec.MsgspecError):
                self._before = {}

    def once(self, name: str, made_from: Iterable[Any], kind: type[_Result], work: Callable[[], _Result]) -> _Result:
        """What ``work`` comes to, or came to when everything in ``made_from`` was the same. ``kind`` is its type."""
        if self._file is None:
            return work()
        digest = hashlib.sha256(name.encode())
        for each in made_from:
            digest.update(self._digest(each))
        key = digest.digest()[:20]
        if key in self._before:
            try:
                result = msgspec.msgpack.decode(self._before[key], type=kind)
            except msgspec.MsgspecError:
                pass
            else:
                self._now[key] = self._before[key]
                return result
        result = work()
        self._now[key] = msgspec.msgpack.encode(result)
        return result

    def save(self, so_far: bool = False) -> None:
        """Where nothing can be written, all work is done the next time too.

        ``so_far``: the work was stopped, and the results that it did not come to yet stay as well.
        """
        kept = {**self._before, **self._now} if so_far else self._now
        if self._file is None or kept == self._before:
            return
        try:
            write_whole(self._file, msgspec.msgpack.encode(kept))
        except OSError:
            return

    def _digest(self, thing: Any) -> bytes:
        if isinstance(thing, bytes):
            return hashlib.sha256(thing).digest()
        if id(thing) not in self._digests:
            self._digests[id(thing)] = thing, hashlib.sha256(msgspec.msgpack.encode(thing)).digest()
        return self._digests[id(thing)][1]
