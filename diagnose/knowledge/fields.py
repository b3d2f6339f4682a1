"""How the fields of an entry are read whose meaning hangs on the entry itself, or on entries read before it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, get_args

from diagnose.knowledge import model
from diagnose.knowledge.amounts import amount, difference, read_limit, read_range
from diagnose.knowledge.distributions import Distribution, Range, Shares, read_shares, read_spread
from diagnose.knowledge.entries import Read, read_entry
from diagnose.knowledge.marked_yaml import Marked
from diagnose.knowledge.problems import Place, Problems, did_you_mean
from diagnose.knowledge.words import NotUnderstood, read_chance


class Entries(dict[str, dict[str, Any]]):
    """Entries read so far, by kind and id. ``places`` has those too that are written and could not be read."""

    def __init__(self) -> None:
        super().__init__((kind, {}) for kind in model.KINDS)
        self.places: dict[str, Place] = {}

    def has(self, kind: str, identity: str) -> bool:
        """Whether an entry is written, sound or not: what is wrong with it is said once, at its place."""
        return f"{kind}.{identity}" in self.places

    def place(self, kind: str, identity: str) -> Place:
        return self.places[f"{kind}.{identity}"]


class Fields:
    """The special fields of one entry, at ``path`` in its file. ``read`` is what was read before it."""

    def __init__(self, marked: Marked, path: tuple[str, str], read: Entries, problems: Problems) -> None:
        self._marked, self._path, self._read, self._problems = marked, path, read, problems
        self._written: dict[str, Any] = marked.value[path[0]][path[1]]

    def special(self) -> dict[str, Read]:
        """How to read each of them, by its name."""
        match self._path[0]:
            case "checks":
                unit = self._written.get("unit", "")
                return {
                    "plausible": lambda value: read_range(value, unit),
                    "limit": lambda value: read_limit(value, unit),
                    "healthy": self._healthy,
                    "instrument": self._instrument,
                    "after": _after,
                    "inputs": _inputs,
                }
            case "causes":
                return {"signs": self._signs, "remedies": self._remedies}
            case "remedies":
                return {"parts": _parts, "after": _after}
            case "symptoms":
                return {"lacks": _lacks}
            case _:
                return {}

    def _healthy(self, value: Any) -> Distribution:
        unit, answers = self._written.get("unit", ""), self._written.get("answers")
        try:
            plausible = read_range(self._written.get("plausible"), unit)
        except NotUnderstood:
            # What is wrong with it is said where it is read.
            plausible = None
        return _distribution(value, tuple(map(str, answers or ())), unit, Range(plausible))

    def _instrument(self, value: Any) -> model.Instrument | None:
        if isinstance(value, str):
            known: Mapping[str, model.Instrument] = self._read["instruments"]
            if value not in known:
                raise NotUnderstood(f"'{value}' is no instrument.", did_you_mean(value, known))
            return known[value]
        given = {"id": "own", "title": str(self._written.get("tool", "instrument"))}
        return read_entry(model.Instrument, self._marked, (*self._path, "instrument"), self._problems, given)

    def _signs(self, value: Any) -> dict[str, Distribution]:
        if not isinstance(value, dict):
            raise NotUnderstood("Signs are 'check: what it shows' lines.", "Write them so.")
        signs: dict[str, Distribution] = {}
        for identity, written in value.items():
            place, known = self._marked.place(*self._path, "signs", identity), self._read["checks"]
            if identity not in known:
                if not self._read.has("checks", identity):
                    self._problems.error(
                        place, f"'{identity}' is no check.", did_you_mean(identity, known), "unknown-id"
                    )
                continue
            check: model.Check = known[identity]
            try:
                within = Range(check.plausible, check.healthy)
                signs[identity] = _distribution(written, check.answers, check.unit, within)
            except NotUnderstood as error:
                self._problems.error(place, error.wrong, error.mend, "shape")
        return signs

    def _remedies(self, value: Any) -> dict[str, float]:
        named = _named(value, None)
        if not isinstance(named, dict):
            raise NotUnderstood("'remedies' names what removes the cause.", "Write 'remedies: [remedy-id]'.")
        known: Mapping[str, model.Remedy] = self._read["remedies"]
        usual = {identity: known[identity].works if identity in known else 0.9 for identity in named}
        return {each: usual[each] if chance is None else read_chance(chance) for each, chance in named.items()}


def _named(value: Any, usual: Any) -> Any:
    """What is said of each name: where it is one name or a list of them, of each what is ``usual``."""
    names = [value] if isinstance(value, str) else value
    return {str(name): usual for name in names} if isinstance(names, list) else names


def _after(value: Any) -> dict[str, tuple[str, ...]]:
    named = _named(value, [])
    if not isinstance(named, dict):
        raise NotUnderstood("'after' names checks.", "Write 'after: [check-id]' or 'after: {check-id: answer}'.")
    return {key: tuple(answers) if isinstance(answers, list) else (str(answers),) for key, answers in named.items()}


def _inputs(value: Any) -> dict[str, str]:
    if not isinstance(value, dict):
        raise NotUnderstood("'inputs' names the formula's inputs.", "Write 'input: check-id' lines.")
    return {str(name).replace("-", "_"): str(written) for name, written in value.items()}


def _parts(value: Any) -> dict[str, int]:
    named = _named(value, 1)
    if not isinstance(named, dict) or not all(isinstance(count, int) and count > 0 for count in named.values()):
        raise NotUnderstood("'parts' counts what is used.", "Write 'part-id: 1' lines.")
    return named


def _lacks(value: Any) -> dict[str, str]:
    """What a complaint lacks: in a list it is lost, otherwise each says how."""
    named, known = _named(value, "lost"), get_args(model.Loss)
    if not isinstance(named, dict):
        raise NotUnderstood("'lacks' names functions.", "Write 'lacks: [function-id]' or 'lacks: {function-id: weak}'.")
    for loss in named.values():
        if loss not in known:
            raise NotUnderstood(f"'{loss}' does not say how a function is lacking.", did_you_mean(str(loss), known))
    return named


def _distribution(value: Any, answers: tuple[str, ...], unit: str, within: Range) -> Distribution:
    if answers:
        return read_shares(value, answers, within.sound.shares if isinstance(within.sound, Shares) else None)
    return read_spread(value, lambda written: amount(written, unit), lambda written: difference(written, unit), within)
