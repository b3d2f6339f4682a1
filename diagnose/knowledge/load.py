"""Reading a folder of trees: files to entries, ids to entries, words to numbers, all faults at once.

``load_trees`` is what the rest of the program calls. The result is compiled once and kept in the user's cache
folder under a name made from the content of every file, so that a changed comma is a new compilation and a
stale one can never be read.
"""

from __future__ import annotations

import hashlib
import os
import tempfile
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

import msgspec

from diagnose.knowledge import model
from diagnose.knowledge.distributions import Distribution, Shares, read_shares, read_spread
from diagnose.knowledge.entries import Read, read_entry
from diagnose.knowledge.marked_yaml import Marked, read_marked
from diagnose.knowledge.problems import Place, Problems, TreeError, did_you_mean
from diagnose.knowledge.words import NotUnderstood, read_chance
from diagnose.shipped import shipped_folder

# Raised whenever the compiled form changes, so that an older program's cache is passed over.
_FORM = 3

KINDS: dict[str, type[model.Entry]] = {
    "families": model.Family,
    "facts": model.Fact,
    "cautions": model.Caution,
    "parts": model.Part,
    "instruments": model.Instrument,
    "energy": model.EnergyState,
    "access": model.Access,
    "people": model.Person,
    "proofs": model.Proof,
    "remedies": model.Remedy,
    "checks": model.Check,
    "causes": model.Cause,
    "symptoms": model.Symptom,
    "dangers": model.Danger,
    "languages": model.Language,
    "phrases": model.Phrase,
    "hazards": model.Hazard,
    "assurances": model.Assurance,
    "urgencies": model.Urgency,
    "vans": model.Van,
    "preparations": model.Preparation,
}


def load_trees(folder: str | Path | None = None, *, cache: bool = True) -> model.Trees:
    """All entries of the ``*.yaml`` files below ``folder`` (by default the trees that ship).

    Raises ``TreeError`` with every fault found, each with its file and line and what to do.
    """
    root = Path(folder) if folder is not None else shipped_folder("trees")
    files = _read_files(root)
    digest = _digest(files)
    kept = _cache_file(digest) if cache else None
    if kept is not None:
        trees = _from_cache(kept)
        if trees is not None:
            return trees
    problems = Problems()
    trees_or_none = compile_trees(files, digest, problems)
    if problems.errors or trees_or_none is None:
        raise TreeError(problems.errors)
    if kept is not None:
        _to_cache(kept, trees_or_none)
    return trees_or_none


def compile_trees(files: Mapping[str, str], digest: str, problems: Problems) -> model.Trees | None:
    """Entries from the text of each file; faults go to ``problems``, and ``None`` comes back if there were any."""
    return _Compiler(problems).compile(files, digest)


def _read_files(root: Path) -> dict[str, str]:
    if not root.is_dir():
        place = Place(str(root), 1)
        wrong, mend = "There is no folder of trees here.", "Give the path of a folder with *.yaml files."
        problems = Problems()
        problems.error(place, wrong, mend, "folder")
        raise TreeError(problems)
    problems = Problems()
    files: dict[str, str] = {}
    for path in sorted(root.rglob("*.yaml")):
        try:
            files[path.relative_to(root).as_posix()] = path.read_text(encoding="utf-8")
        except (OSError, UnicodeDecodeError) as error:
            problems.error(Place(str(path), 1), f"This file cannot be read: {error}.", "Save it as UTF-8.", "yaml")
    if not files and not len(problems):
        problems.error(Place(str(root), 1), "This folder holds no trees.", "Add *.yaml files.", "folder")
    if len(problems):
        raise TreeError(problems)
    return files


def _digest(files: Mapping[str, str]) -> str:
    digest = hashlib.sha256()
    for name, text in files.items():
        for part in (name, text):
            encoded = part.encode()
            digest.update(len(encoded).to_bytes(8, "big"))
            digest.update(encoded)
    return digest.hexdigest()


def _cache_file(digest: str) -> Path:
    from platformdirs import user_cache_path

    folder = os.environ.get("DIAGNOSE_CACHE") or user_cache_path("diagnose")
    return Path(folder) / f"trees-{_FORM}-{digest[:40]}.msgpack"


def _from_cache(file: Path) -> model.Trees | None:
    try:
        return msgspec.msgpack.decode(file.read_bytes(), type=model.Trees)
    except (OSError, msgspec.MsgspecError):
        return None


def _to_cache(file: Path, trees: model.Trees) -> None:
    """Written whole under another name first; without a writable cache the trees are compiled each time."""
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.NamedTemporaryFile(dir=file.parent, delete=False) as draft:
            draft.write(msgspec.msgpack.encode(trees))
        Path(draft.name).replace(file)
        _forget_older(file)
    except OSError:
        return


def _forget_older(newest: Path, keep: int = 8) -> None:
    kept = sorted(newest.parent.glob("trees-*.msgpack"), key=lambda file: file.stat().st_mtime)
    for file in kept[:-keep]:
        file.unlink(missing_ok=True)


class _Compiler:
    """Two passes: every entry by itself, then what ties entries together."""

    def __init__(self, problems: Problems) -> None:
        self._problems = problems
        self._places: dict[str, Place] = {}
        self._entries: dict[str, dict[str, Any]] = {kind: {} for kind in KINDS}
        # Where a reference is written: (kind wanted, id, place).
        self._references: list[tuple[str, str, Place]] = []

    def compile(self, files: Mapping[str, str], digest: str) -> model.Trees | None:
        documents = [
            (name, marked) for name, text in files.items() if (marked := read_marked(text, name, self._problems))
        ]
        costs = model.Costs()
        for name, marked in documents:
            costs = self._check_top(name, marked) or costs
        for kind in KINDS:
            for name, marked in documents:
                section = marked.value.get(kind) if isinstance(marked.value, dict) else None
                if isinstance(section, dict):
                    for identity in section:
                        self._read(kind, identity, name, marked)
        self._resolve()
        if self._problems.errors:
            return None
        return model.Trees(digest=digest, costs=costs, places=self._places, **self._entries)

    def _check_top(self, name: str, marked: Marked) -> model.Costs | None:
        """The keys of a file, and the shop's costs where they stand in this one."""
        costs = None
        if not isinstance(marked.value, dict):
            self._problems.error(marked.place(), "A tree is 'kind:' lines with entries below.", "See README.", "shape")
            return None
        for key, value in marked.value.items():
            if key == "costs":
                costs = read_entry(model.Costs, marked, ("costs",), self._problems)
            elif key == "source":
                continue
            elif key not in KINDS:
                known = [*KINDS, "costs", "source"]
                self._problems.error(
                    marked.place(key),
                    f"'{key}' is no kind of entry.",
                    did_you_mean(key, known),
                    "unknown-key",
                )
            elif value is not None and not isinstance(value, dict):
                self._problems.error(marked.place(key), f"'{key}' holds no entries.", "Write 'id:' lines.", "shape")
        return costs

    def _read(self, kind: str, identity: str, file: str, marked: Marked) -> None:
        path = (kind, identity)
        place = marked.place(*path)
        key = f"{kind}.{identity}"
        if key in self._places:
            self._problems.error(
                place,
                f"'{identity}' is written already at {self._places[key]}.",
                "Write it once.",
                "duplicate-id",
            )
            return
        self._places[key] = place
        given: dict[str, Any] = {"id": identity}
        written = marked.value[kind][identity]
        if not isinstance(written, dict):
            self._problems.error(place, f"'{identity}' holds nothing.", "Write its 'key: value' lines.", "shape")
            return
        if isinstance(marked.value.get("source"), str):
            given["source"] = marked.value["source"]
        if kind == "symptoms":
            family = marked.value.get("families")
            given["family"] = next(iter(family)) if isinstance(family, dict) and len(family) == 1 else identity
        special = self._special(kind, marked, path)
        entry = read_entry(KINDS[kind], marked, path, self._problems, given, special)
        if entry is not None:
            self._entries[kind][identity] = entry
            self._note_references(kind, entry, marked)

    def _special(self, kind: str, marked: Marked, path: tuple[str, str]) -> dict[str, Read]:
        written = marked.value[path[0]][path[1]]
        if kind == "checks":
            unit = written.get("unit", "")
            answers = tuple(str(answer) for answer in written.get("answers") or ())
            return {
                "plausible": lambda value: _read_range(value, unit),
                "healthy": lambda value: _read_distribution(value, answers, unit),
                "instrument": lambda value: self._read_instrument(value, marked, path),
                "after": _read_after,
                "inputs": _read_inputs,
            }
        if kind == "causes":
            return {
                "signs": lambda value: self._read_signs(value, marked, path),
                "remedies": self._read_remedies,
            }
        if kind == "remedies":
            return {"parts": _read_parts}
        return {}

    def _read_instrument(self, value: Any, marked: Marked, path: tuple[str, str]) -> model.Instrument | None:
        if isinstance(value, str):
            known = self._entries["instruments"]
            if value not in known:
                raise NotUnderstood(f"'{value}' is no instrument.", did_you_mean(value, known))
            instrument: model.Instrument = known[value]
            return instrument
        given = {"id": "own", "title": str(marked.value[path[0]][path[1]].get("tool", "instrument"))}
        return read_entry(model.Instrument, marked, (*path, "instrument"), self._problems, given)

    def _read_remedies(self, value: Any) -> dict[str, float]:
        if isinstance(value, str):
            value = [value]
        if isinstance(value, list):
            value = {str(item): None for item in value}
        if not isinstance(value, dict) or not value:
            raise NotUnderstood("A cause needs at least one remedy.", "Write 'remedies: [remedy-id]'.")
        chances: dict[str, float] = {}
        for identity, chance in value.items():
            remedy = self._entries["remedies"].get(identity)
            chances[identity] = read_chance(chance) if chance is not None else (remedy.works if remedy else 0.9)
        return chances

    def _read_signs(self, value: Any, marked: Marked, path: tuple[str, str]) -> dict[str, Distribution]:
        if not isinstance(value, dict):
            raise NotUnderstood("Signs are 'check: what it shows' lines.", "Write them so.")
        signs: dict[str, Distribution] = {}
        for identity, written in value.items():
            place = marked.place(*path, "signs", identity)
            check: model.Check | None = self._entries["checks"].get(identity)
            if check is None:
                if f"checks.{identity}" not in self._places:
                    known = self._entries["checks"]
                    mend = did_you_mean(identity, known)
                    self._problems.error(place, f"'{identity}' is no check.", mend, "unknown-id")
                continue
            try:
                healthy = check.healthy.shares if isinstance(check.healthy, Shares) else None
                signs[identity] = _read_distribution(written, check.answers, check.unit, healthy)
            except NotUnderstood as error:
                self._problems.error(place, error.wrong, error.mend, "shape")
        return signs

    def _note_references(self, kind: str, entry: Any, marked: Marked) -> None:
        for field, wanted in _REFERENCES.get(kind, {}).items():
            value = getattr(entry, field)
            for identity in _ids_in(value):
                place = marked.place(kind, entry.id, field.replace("_", "-"), identity)
                self._references.append((wanted, identity, place))
        if kind == "checks":
            for answer, identities in [*entry.opens.items(), *entry.closes.items()]:
                place = marked.place(kind, entry.id, "opens" if answer in entry.opens else "closes", answer)
                self._references.extend(("checks", identity, place) for identity in identities)
                if entry.answers and answer not in (*entry.answers, model.COULD_NOT_TELL):
                    mend = did_you_mean(answer, entry.answers)
                    self._problems.error(place, f"'{answer}' is not an answer of this check.", mend, "unknown-id")
                if not entry.answers and read_band(answer, entry.unit) is None:
                    self._problems.error(
                        place,
                        f"'{answer}' is no band of readings.",
                        "Write 'below 20 V' or 'above 3 V'.",
                        "shape",
                    )

    def _resolve(self) -> None:
        """Every id names an entry; conditions name facts and their values; ``after`` never runs in a circle."""
        for van in self._entries["vans"].values():
            place = self._places[f"vans.{van.id}"]
            self._references.extend(("access", other, place) for other in van.beyond.values())
            for conditions in van.reaches.values():
                self._resolve_conditions(conditions, place)
        for wanted, identity, place in self._references:
            if f"{wanted}.{identity}" not in self._places:
                known = self._entries[wanted]
                mend = did_you_mean(identity, known)
                self._problems.error(place, f"'{identity}' is not among the {wanted}.", mend, "unknown-id")
        for kind, entries in self._entries.items():
            for entry in entries.values():
                place = self._places[f"{kind}.{entry.id}"]
                self._resolve_conditions(getattr(entry, "applies", {}), place)
        for danger in self._entries["dangers"].values():
            for check, answers in danger.signs.items():
                self._resolve_answers(check, answers, self._places[f"dangers.{danger.id}"])
        for check in self._entries["checks"].values():
            self._resolve_check(check, self._places[f"checks.{check.id}"])
        self._refuse_circles()

    def _resolve_conditions(self, conditions: model.Conditions, place: Place) -> None:
        facts = self._entries["facts"]
        for fact, values in conditions.items():
            if fact not in facts:
                if f"facts.{fact}" not in self._places:
                    self._problems.error(place, f"'{fact}' is no fact.", did_you_mean(fact, facts), "unknown-id")
                continue
            for value in values:
                if value not in facts[fact].answers:
                    mend = did_you_mean(value, facts[fact].answers)
                    self._problems.error(place, f"'{value}' is no answer to '{fact}'.", mend, "unknown-id")

    def _resolve_check(self, check: model.Check, place: Place) -> None:
        for wrong, mend in _check_faults(check):
            self._problems.error(place, wrong, mend, "shape")
        for name, written in check.inputs.items():
            known = {**self._entries["checks"], **self._entries["facts"]}
            named = any(f"{kind}.{written}" in self._places for kind in ("checks", "facts"))
            if not named and not any(c.isdigit() for c in written) and not _is_choice(check.formula, name, written):
                mend = did_you_mean(written, known)
                self._problems.error(place, f"Input '{name}' is '{written}', which is nothing.", mend, "unknown-id")
        for before, allowed in check.after.items():
            self._resolve_answers(before, allowed, place)

    def _resolve_answers(self, identity: str, answers: Iterable[str], place: Place) -> None:
        check = self._entries["checks"].get(identity)
        for answer in answers:
            if check is not None and answer not in check.answers:
                mend = did_you_mean(answer, check.answers)
                self._problems.error(place, f"'{answer}' is not an answer of '{identity}'.", mend, "unknown-id")

    def _refuse_circles(self) -> None:
        checks: dict[str, model.Check] = self._entries["checks"]
        finished: set[str] = set()
        for start in checks:
            trail: list[str] = []
            self._follow(start, trail, finished, checks)

    def _follow(self, here: str, trail: list[str], finished: set[str], checks: dict[str, model.Check]) -> None:
        if here in finished or here not in checks:
            return
        if here in trail:
            circle = " → ".join([*trail[trail.index(here) :], here])
            self._problems.error(
                self._places[f"checks.{here}"],
                f"These checks wait for each other: {circle}.",
                "Take one 'after:' away.",
                "circle",
            )
            finished.update(trail)
            return
        check = checks[here]
        for before in [*check.after, *(i for i in check.inputs.values() if i in checks)]:
            self._follow(before, [*trail, here], finished, checks)
        finished.add(here)


# Which fields of which kinds name entries of another kind.
_REFERENCES: dict[str, dict[str, str]] = {
    "symptoms": {"ask_first": "checks", "causes": "causes"},
    "causes": {"remedies": "remedies", "same_remedy": "causes"},
    "checks": {
        "after": "checks",
        "cautions": "cautions",
        "who": "people",
        "energy": "energy",
        "access": "access",
    },
    "remedies": {
        "parts": "parts",
        "proofs": "proofs",
        "cautions": "cautions",
        "who": "people",
        "energy": "energy",
        "access": "access",
    },
    "proofs": {"cautions": "cautions", "who": "people", "energy": "energy", "access": "access"},
    "energy": {"enter": "energy", "cautions": "cautions"},
    "access": {"cautions": "cautions"},
    "people": {"includes": "people"},
    "dangers": {"symptoms": "symptoms", "who": "people", "signs": "checks"},
    "hazards": {
        "energy": "energy",
        "access": "access",
        "cautions": "cautions",
        "one_of": "cautions",
        "only_by": "people",
        "only_in": "energy",
    },
    "assurances": {"proofs": "proofs", "only_by": "people"},
    "vans": {"reaches": "access", "beyond": "access", "ask": "people"},
    "preparations": {"people": "people", "access": "access", "energy": "energy", "families": "families"},
}


def _ids_in(value: Any) -> Iterable[str]:
    return (value,) if isinstance(value, str) else value


def _read_distribution(
    value: Any, answers: tuple[str, ...], unit: str, healthy: Mapping[str, float] | None = None
) -> Distribution:
    if answers:
        return read_shares(value, answers, healthy)
    return read_spread(value, lambda written: amount(written, unit), lambda written: difference(written, unit))


def amount(written: Any, unit: str) -> float:
    """A quantity as written in a tree, in ``unit``; a bare number is in ``unit`` already."""
    if isinstance(written, (int, float)):
        return float(written)
    text = str(written).strip()
    number, _, typed = text.partition(" ")
    if typed.strip() in ("", unit):
        try:
            return float(number)
        except ValueError:
            pass
    from diagnose.quantities import QuantityError, read_quantity, to_unit

    try:
        return to_unit(read_quantity(text, unit).value, unit)
    except QuantityError as error:
        raise NotUnderstood(str(error), "") from None


def difference(written: Any, unit: str) -> float:
    """A width in ``unit``: like ``amount``, but an offset between scales (°C, °F) falls out."""
    return amount(written, unit) - (0.0 if isinstance(written, (int, float)) else _zero(written, unit))


def _zero(written: str, unit: str) -> float:
    typed = str(written).strip().partition(" ")[2].strip()
    return 0.0 if typed in ("", unit) else amount(f"0 {typed}", unit)


def _read_range(value: Any, unit: str) -> tuple[float, float]:
    low, separator, high = str(value).partition(" to ")
    if not separator:
        raise NotUnderstood(f"'{value}' is no range.", "Write it like '0 to 60'.")
    bottom, top = amount(_with_unit(low, high), unit), amount(high, unit)
    if bottom >= top:
        raise NotUnderstood(f"The range '{value}' ends before it starts.", "Write the lower number first.")
    return bottom, top


def _with_unit(low: str, high: str) -> str:
    """``0 to 60 V``: the unit written once, at the end, is meant for both."""
    unit = high.strip().partition(" ")[2]
    return low if " " in low.strip() or not unit else f"{low.strip()} {unit}"


def read_band(written: str, unit: str) -> tuple[float, float] | None:
    """The range that ``below 20 V``, ``above 3 V`` or ``2 to 5 V`` names, in ``unit``; ``None`` if it is none."""
    text = written.strip()
    try:
        if text.startswith("below "):
            return float("-inf"), amount(_number(text[6:]), unit)
        if text.startswith("above "):
            return amount(_number(text[6:]), unit), float("inf")
        return _read_range(text, unit)
    except NotUnderstood:
        return None


def _number(text: str) -> str | float:
    try:
        return float(text)
    except ValueError:
        return text


def _read_after(value: Any) -> dict[str, tuple[str, ...]]:
    if isinstance(value, str):
        value = [value]
    if isinstance(value, list):
        return {str(item): () for item in value}
    if isinstance(value, dict):
        return {key: tuple(v) if isinstance(v, list) else (str(v),) for key, v in value.items()}
    raise NotUnderstood("'after' names checks.", "Write 'after: [check-id]' or 'after: {check-id: answer}'.")


def _read_inputs(value: Any) -> dict[str, str]:
    if not isinstance(value, dict):
        raise NotUnderstood("'inputs' names the formula's inputs.", "Write 'input: check-id' lines.")
    return {str(name).replace("-", "_"): str(written) for name, written in value.items()}


def _is_choice(formula: str, name: str, written: str) -> bool:
    """Whether a formula's input takes this very word (``phase: three``)."""
    from diagnose.formulas import FormulaError, find

    try:
        inputs = find(formula.partition(".")[0]).inputs
    except FormulaError:
        return False
    return any(item.name == name and written in item.choices for item in inputs)


def _read_parts(value: Any) -> dict[str, int]:
    if isinstance(value, str):
        value = [value]
    if isinstance(value, list):
        value = {str(item): 1 for item in value}
    if not isinstance(value, dict) or not all(isinstance(count, int) and count > 0 for count in value.values()):
        raise NotUnderstood("'parts' counts what is used.", "Write 'part-id: 1' lines.")
    return value


def _check_faults(check: model.Check) -> Iterable[tuple[str, str]]:
    """What makes a check meaningless by itself."""
    kinds = [name for name in ("ask", "measure", "compute") if getattr(check, name)]
    if len(kinds) != 1:
        yield "A check asks, measures or computes.", "Write just one of 'ask:', 'measure:', 'compute:'."
        return
    if check.ask and len(check.answers) < 2:
        yield "A question needs two answers or more.", "Write 'answers: [yes, no]'."
    if len(set(check.answers)) != len(check.answers):
        yield "An answer is written twice.", "Keep one of the two."
    if model.COULD_NOT_TELL in check.answers:
        yield f"'{model.COULD_NOT_TELL}' is always offered.", "Take it out of the answers."
    if check.measure and not check.plausible:
        yield "A reading needs its plausible range.", "Write 'plausible: 0 to 60 V'."
    if check.measure and check.answers:
        yield "A reading has no answers to choose from.", "Write 'ask:' for a question."
    if check.compute and not check.formula:
        yield "A computed check needs its formula.", "Write 'formula: name'."
    if check.formula and not check.compute:
        yield "Only a computed check has a formula.", "Write 'compute:' in place of the question."
    if check.compute and not check.answers and not check.plausible:
        yield "A computed number needs its plausible range.", "Write 'plausible: 0 to 60 V'."
