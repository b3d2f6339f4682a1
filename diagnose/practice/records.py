"""What trainees did, kept beside the calls: every act on the disk before it counts, and what came of each practice.

The tables are practice's own, in the same store, with shapes of their own that are brought forward in order. An act
is a line; a practice that was broken off is played again from its acts, and so goes on where it stopped.
"""

from __future__ import annotations

import secrets
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

import msgspec

from diagnose.calls.migrations import Migration
from diagnose.calls.store import Store, StoreError
from diagnose.practice.acts import AnyAct
from diagnose.practice.scenario import Scenario

SHAPES = (
    Migration(
        "practices, their acts, and what came of them",
        (
            "CREATE TABLE practice (id VARCHAR(40) NOT NULL PRIMARY KEY, trainee TEXT NOT NULL, "
            "trainee_folded TEXT NOT NULL, scenario TEXT NOT NULL, scenario_id VARCHAR(200) NOT NULL, "
            "seed INTEGER NOT NULL, hints INTEGER NOT NULL, digest VARCHAR(80) NOT NULL, "
            "begun_at VARCHAR(40) NOT NULL, result TEXT)",
            "CREATE TABLE practice_act (practice_id VARCHAR(40) NOT NULL REFERENCES practice (id), "
            "sequence INTEGER NOT NULL, body TEXT NOT NULL, PRIMARY KEY (practice_id, sequence))",
            "CREATE INDEX practice_trainee ON practice (trainee_folded, begun_at)",
        ),
    ),
)


class WrongTurn(msgspec.Struct, frozen=True, kw_only=True):
    """The first step that went wrong: what was done, and what would have been better."""

    did: str
    better: str
    loss: float = 0.0


class Result(msgspec.Struct, frozen=True, kw_only=True):
    """What came of a finished practice. ``habits`` are shares of their points, those left out that were not shown."""

    score: float
    solved: bool
    minutes: float
    money: float
    family: str
    level: str
    habits: dict[str, float] = {}
    hints: float = 0.0
    wrong_turn: WrongTurn | None = None


@dataclass(frozen=True)
class Practice:
    """One practice on record. ``result`` is ``None`` while it is not finished."""

    id: str
    trainee: str
    scenario: Scenario
    seed: int
    hints: bool
    digest: str
    begun_at: str
    result: Result | None

    @property
    def at(self) -> datetime:
        return datetime.fromisoformat(self.begun_at)

    @property
    def came(self) -> Result:
        """What came of a finished practice."""
        assert self.result is not None
        return self.result


class Records(Store):
    """A store's practices. Made of an open store with ``Records.of``; closing it is the store's business."""

    @classmethod
    def of(cls, store: Store) -> Records:
        """The practices of a store, its tables brought to the present shape. Raises ``StoreError``."""
        written = f"The practices in {store.where} were"
        return super().of(store)._bring(SHAPES, "practice_shape", written)

    def begin_practice(
        self,
        trainee: str,
        scenario: Scenario,
        seed: int,
        hints: bool,
        digest: str,
        now: datetime | None = None,
    ) -> str:
        """A new practice's id, on the disk."""
        moment = now or datetime.now(UTC)
        row = {
            "id": f"{moment.date().isoformat()}-p{secrets.token_hex(3)}",
            "trainee": _sound(trainee),
            "trainee_folded": _sound(trainee).casefold(),
            # The whole scenario: a drawn one stands in no file, and one in a file may change.
            "scenario": msgspec.json.encode(scenario).decode(),
            "scenario_id": scenario.id,
            "seed": seed,
            "hints": int(hints),
            "digest": digest,
            "begun_at": moment.astimezone(UTC).isoformat(timespec="microseconds"),
            "result": None,
        }
        with self._writing() as connection:
            connection.insert("practice", row)
        return str(row["id"])

    def act_recorder(self, practice_id: str) -> Callable[[AnyAct], None]:
        """What a ``Session`` is given to write its acts with."""
        sequence = len(self.acts(practice_id))

        def record(act: AnyAct) -> None:
            nonlocal sequence
            try:
                body = msgspec.json.encode(act).decode()
            except UnicodeEncodeError:
                raise StoreError("This text holds characters that cannot be written down. Type it again.") from None
            row = {"practice_id": practice_id, "sequence": sequence + 1, "body": body}
            try:
                with self._writing() as connection:
                    connection.insert("practice_act", row)
            except Exception as error:
                if len(self.acts(practice_id)) > sequence:
                    raise StoreError(f"Practice {practice_id} went on elsewhere. Open it again to go on.") from None
                raise error
            sequence += 1

        return record

    def acts(self, practice_id: str) -> list[AnyAct]:
        """What was done in a practice, in order. Raises ``StoreError`` for what this program cannot read."""
        query = "SELECT body FROM practice_act WHERE practice_id = :id ORDER BY sequence"
        bodies = self._values(query, {"id": practice_id})
        try:
            return [msgspec.json.decode(body, type=AnyAct) for body in bodies]
        except msgspec.MsgspecError:
            raise StoreError(f"Practice {practice_id} is damaged, or newer than this program.") from None

    def finish(self, practice_id: str, result: Result) -> None:
        row = {"id": practice_id, "result": msgspec.json.encode(result).decode()}
        with self._writing() as connection:
            connection.execute("UPDATE practice SET result = :result WHERE id = :id", row)

    def practices(self, trainee: str | None = None) -> list[Practice]:
        """Practices in the order they were begun, those of one trainee or of all; what cannot be read is left out."""
        where = "" if trainee is None else " WHERE trainee_folded = :trainee"
        query = f"SELECT * FROM practice{where} ORDER BY begun_at, id"
        with self._reading() as connection:
            rows = connection.execute(query, {"trainee": _sound(trainee or "").casefold()}).mappings()
        return [practice for row in rows if (practice := _as_practice(row)) is not None]

    def practice(self, text: str) -> Practice:
        """The one practice whose id begins or ends so; ``last`` is the one last begun. Raises ``StoreError``."""
        known = self.practices()
        wanted = text.strip().casefold()
        if wanted == "last" and known:
            return known[-1]
        fitting = [each for each in known if wanted and (each.id.startswith(wanted) or each.id.endswith(wanted))]
        if len(fitting) == 1:
            return fitting[0]
        if fitting:
            raise StoreError(f"'{text}' could be any of: {', '.join(each.id for each in fitting[-6:])}. Type more.")
        raise StoreError(f"There is no practice '{text}' in {self.where}. 'diagnose practise --progress' lists yours.")


def _as_practice(row: Mapping[str, Any]) -> Practice | None:
    try:
        return Practice(
            row["id"],
            row["trainee"],
            msgspec.json.decode(row["scenario"], type=Scenario),
            row["seed"],
            bool(row["hints"]),
            row["digest"],
            row["begun_at"],
            msgspec.json.decode(row["result"], type=Result) if row["result"] else None,
        )
    except msgspec.MsgspecError:
        return None


def _sound(text: str) -> str:
    """A name as it can be written down."""
    return " ".join(text.replace("\0", "").encode("utf-8", "replace").decode("utf-8").split())
