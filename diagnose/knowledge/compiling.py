"""Reading trees: files to entries, ids to entries, words to numbers, all faults at once."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import TYPE_CHECKING, Any, get_args

import msgspec

from diagnose.knowledge import model
from diagnose.knowledge.amounts import amount, difference, read_band, read_limit, read_range
from diagnose.knowledge.components import Names
from diagnose.knowledge.distributions import Distribution, Range, Shares, read_shares, read_spread
from diagnose.knowledge.entries import Read, read_entry
from diagnose.knowledge.marked_yaml import Marked, read_marked
from diagnose.knowledge.model import KINDS
from diagnose.knowledge.problems import Place, Problems, did_you_mean
from diagnose.knowledge.words import NotUnderstood, read_chance

if TYPE_CHECKING:
    from diagnose.formulas import Input


def read_documents(files: Mapping[str, str], problems: Problems) -> dict[str, Marked]:
    """Each file as it is written; what cannot be read goes to ``problems`` and is left out."""
    read = ((name, read_marked(text, name, problems)) for name, text in files.items())
    return {name: marked for name, marked in read if marked is not None}


class Compiler:
    """Two passes: every entry by itself, then what ties entries together."""

    def __init__(self, problems: Problems) -> None:
        self._problems = problems
        self._places: dict[str, Place] = {}
        self._entries: dict[str, dict[str, Any]] = {kind: {} for kind in KINDS}
        self._exclusive: model.YesNo = "no"
        # What steps have that do not say so.
        self._usual: dict[str, str] = {}
        # Where a reference is written: (kind wanted, id, place).
        self._references: list[tuple[str, str, Place]] = []
        # What a formula is fed with: (formula, input, what is written, place).
        self._fed: list[tuple[str, str, str, Place]] = []
        # The complaints that a cause names itself: (cause, symptom, place).
        self._raised: list[tuple[str, str, Place]] = []

    def compile(self, files: Mapping[str, str], digest: str) -> model.Trees | None:
        return self.compile_documents(read_documents(files, self._problems), digest)

    def compile_documents(self, read: Mapping[str, Marked], digest: str) -> model.Trees | None:
        documents = list(read.items())
        if any(problem.rule == "yaml" for problem in self._problems.errors):
            # What a file that cannot be read holds is missed everywhere: nothing more that is true can be said.
            return None
        costs = model.Costs()
        for name, marked in documents:
            costs = self._check_top(name, marked) or costs
        for kind in KINDS:
            if issubclass(KINDS[kind], model.Task) and not self._usual:
                self._usual = self._usual_words(next(iter(read), ""))
            for name, marked in documents:
                section = marked.value.get(kind) if isinstance(marked.value, dict) else None
                if isinstance(section, dict):
                    for identity in section:
                        self._read(kind, identity, name, marked)
        self._raise_by_causes()
        self._locate()
        self._resolve()
        if self._problems.errors:
            return None
        return model.Trees(digest=digest, costs=costs, places=self._places, exclusive=self._exclusive, **self._entries)

    def _usual_words(self, file: str) -> dict[str, str]:
        """What a step has that does not say so; where the trees say nothing at all of it, one is made up."""
        made_up: dict[str, model.Entry] = {
            "energy": model.EnergyState(id=model.ANY, title="any state", powered="no"),
            "access": model.Access(id="here", title="here", minutes=0),
            "people": model.Person(id="anyone", title="anyone"),
        }
        for kind, entry in made_up.items():
            if not any(place.startswith(f"{kind}.") for place in self._places):
                self._entries[kind][entry.id] = entry
                self._places[f"{kind}.{entry.id}"] = Place(file, 1)
        if model.ANY not in self._entries["energy"]:
            self._entries["energy"][model.ANY] = made_up["energy"]
            self._places.setdefault(f"energy.{model.ANY}", Place(file, 1))
        who = model.usual_person(self._entries["people"])
        return {"who": who, "energy": model.ANY, "access": model.usual_place(self._entries["access"])}

    def _check_top(self, name: str, marked: Marked) -> model.Costs | None:
        """The keys of a file, and the shop's costs where they stand in this one."""
        costs = None
        if not isinstance(marked.value, dict):
            self._problems.error(marked.place(), "A tree is 'kind:' lines with entries below.", "See README.", "shape")
            return None
        for key, value in marked.value.items():
            if key == "costs":
                costs = read_entry(model.Costs, marked, ("costs",), self._problems)
            elif key == "system":
                self._references.extend(("systems", system, marked.place(key)) for system in _names(value))
            elif key == "source":
                continue
            elif key == "exclusive":
                if value not in ("yes", "no"):
                    self._problems.error(marked.place(key), f"'exclusive' is '{value}'.", "Write yes or no.", "shape")
                self._exclusive = "yes" if value == "yes" else self._exclusive
            elif key not in KINDS:
                known = [*KINDS, "costs", *_FOR_ALL, "exclusive"]
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
        if issubclass(KINDS[kind], model.Task):
            given |= self._usual
        written = marked.value[kind][identity]
        if not isinstance(written, dict):
            self._problems.error(place, f"'{identity}' holds nothing.", "Write its 'key: value' lines.", "shape")
            return
        if isinstance(marked.value.get("source"), str):
            given["source"] = marked.value["source"]
        if "system" in KINDS[kind].__struct_fields__ and "system" in marked.value:
            given["system"] = _names(marked.value["system"])
        if kind == "symptoms":
            family = marked.value.get("families")
            given["family"] = next(iter(family)) if isinstance(family, dict) and len(family) == 1 else identity
        special = self._special(kind, marked, path)
        entry = read_entry(KINDS[kind], marked, path, self._problems, given, special)
        if isinstance(entry, model.Symptom):
            entry = _sorted_out(entry)
        if isinstance(entry, model.Cause):
            self._raised.extend(
                (identity, symptom, marked.place(*path, "symptoms", symptom)) for symptom in entry.symptoms
            )
        if entry is not None:
            self._entries[kind][identity] = entry
            self._note_references(kind, entry, marked)

    def _special(self, kind: str, marked: Marked, path: tuple[str, str]) -> dict[str, Read]:
        written = marked.value[path[0]][path[1]]
        if kind == "checks":
            unit = written.get("unit", "")
            answers = tuple(str(answer) for answer in written.get("answers") or ())
            return {
                "plausible": lambda value: read_range(value, unit),
                "limit": lambda value: read_limit(value, unit),
                "healthy": lambda value: _read_distribution(value, answers, unit, Range(_range_of(written, unit))),
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
            return {"parts": _read_parts, "after": _read_after}
        if kind == "symptoms":
            return {"lacks": _read_lacks}
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
        if not isinstance(value, dict):
            raise NotUnderstood("'remedies' names what removes the cause.", "Write 'remedies: [remedy-id]'.")
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
                within = Range(check.plausible, check.healthy)
                signs[identity] = _read_distribution(written, check.answers, check.unit, within)
            except NotUnderstood as error:
                self._problems.error(place, error.wrong, error.mend, "shape")
        return signs

    def _raise_by_causes(self) -> None:
        """A complaint has the causes that it names, and those that name it."""
        symptoms = self._entries["symptoms"]
        for cause, symptom, place in self._raised:
            said: model.Symptom | None = symptoms.get(symptom)
            if said is None:
                continue
            if cause in said.causes or cause in said.never:
                elsewhere = self._places[f"symptoms.{symptom}"]
                wrong = f"How often '{cause}' is behind '{symptom}' is written at {elsewhere} too."
                self._problems.error(place, wrong, "Write it once, here or there.", "duplicate-id")
                continue
            causes = {**said.causes, cause: self._entries["causes"][cause].symptoms[symptom]}
            symptoms[symptom] = _sorted_out(msgspec.structs.replace(said, causes=causes))
        for symptom, read in symptoms.items():
            if not read.causes and not read.lacks and not self._problems.errors:
                mend = "Write 'causes:' here, or 'symptoms:' in the causes that bring it about."
                self._problems.error(self._places[f"symptoms.{symptom}"], f"Nothing causes '{symptom}'.", mend, "shape")

    def _locate(self) -> None:
        """A step that does not say at which component it is done is done at those that its title names."""
        if not self._entries["components"]:
            return
        names = Names(self._entries["components"].values(), self._entries["facts"])
        for kind, shape in KINDS.items():
            if issubclass(shape, model.Task):
                for identity, task in self._entries[kind].items():
                    if not task.at:
                        self._entries[kind][identity] = msgspec.structs.replace(task, at=names.named(task))

    def _note_references(self, kind: str, entry: Any, marked: Marked) -> None:
        for field, wanted in _REFERENCES.get(kind, {}).items():
            if field in _FOR_ALL and field not in marked.value[kind][entry.id]:
                continue
            value = getattr(entry, field)
            for identity in _ids_in(value):
                place = marked.place(kind, entry.id, field.replace("_", "-"), identity)
                self._references.append((wanted, identity, place))
        for identity in getattr(entry, "at", ()):
            if identity != model.NOWHERE:
                self._references.append(("components", identity, marked.place(kind, entry.id, "at")))
        if kind == "sketches":
            for letter, identity in entry.marks.items():
                self._references.append(("components", identity, marked.place(kind, entry.id, "marks", letter)))
        if kind == "facts":
            for field, answer in [("not-served", each) for each in entry.not_served] + [
                ("titles", each) for each in entry.titles
            ]:
                if answer not in entry.answers:
                    place = marked.place(kind, entry.id, field, answer)
                    mend = did_you_mean(answer, entry.answers)
                    self._problems.error(place, f"'{answer}' is not an answer of this fact.", mend, "unknown-id")
        if kind == "checks":
            for key, wrong, mend in _formula_faults(entry):
                self._problems.error(marked.place(kind, entry.id, *key), wrong, mend, "unknown-id")
            for name, value in entry.inputs.items():
                place = marked.place(kind, entry.id, "inputs", name.replace("_", "-"))
                self._fed.append((entry.formula, name, value, place))
            if entry.measured:
                self._references.append(("checks", entry.measured, marked.place(kind, entry.id, "measured")))
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
        for proof in self._entries["proofs"].values():
            place = self._places[f"proofs.{proof.id}"]
            self._resolve_conditions(proof.unless, place)
            for check, answers in proof.seen.items():
                self._resolve_answers(check, answers, place)
            if proof.after and not proof.seen:
                self._problems.error(place, "'after' goes with what was seen.", "Write 'seen:' too.", "shape")
        for state in self._entries["energy"].values():
            for source in state.sources.values():
                self._resolve_conditions(source.applies, self._places[f"energy.{state.id}"])
        for check in self._entries["checks"].values():
            self._resolve_check(check, self._places[f"checks.{check.id}"])
        for remedy in self._entries["remedies"].values():
            for check, answers in remedy.after.items():
                self._resolve_answers(check, answers, self._places[f"remedies.{remedy.id}"])
        for formula, name, written, place in self._fed:
            self._resolve_input(formula, name, written, place)
        self._refuse_circles("checks", "wait for", "after", _before)
        self._refuse_circles("jobs", "wait for", "after", lambda job: job.after)
        self._refuse_circles("proofs", "follow", "follows", lambda proof: proof.follows)
        self._refuse_circles("functions", "need", "needs", lambda function: function.needs)

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
        for before, allowed in check.after.items():
            self._resolve_answers(before, allowed, place)

    def _resolve_input(self, formula: str, name: str, written: str, place: Place) -> None:
        """A formula's input is a check, a fact, or a value written out."""
        wanted = _formula_inputs(formula).get(name)
        named = any(f"{kind}.{written}" in self._places for kind in ("checks", "facts"))
        fault = "" if named or wanted is None else _value_fault(wanted, written)
        if wanted is not None and fault:
            known = {*self._entries["checks"], *self._entries["facts"], *wanted.choices}
            mend = did_you_mean(written, known)
            self._problems.error(place, f"Input '{name}' is '{written}', which is {fault}.", mend, "unknown-id")

    def _resolve_answers(self, identity: str, answers: Iterable[str], place: Place) -> None:
        check = self._entries["checks"].get(identity)
        for answer in answers:
            if check is not None and check.is_number:
                if read_band(answer, check.unit) is None:
                    wrong = f"'{answer}' is no band of readings of '{identity}'."
                    self._problems.error(place, wrong, "Write 'below 20 V' or 'above 3 V'.", "shape")
            elif check is not None and answer not in check.answers:
                mend = did_you_mean(answer, check.answers)
                self._problems.error(place, f"'{answer}' is not an answer of '{identity}'.", mend, "unknown-id")

    def _refuse_circles(self, kind: str, verb: str, field: str, named: Callable[[Any], Iterable[str]]) -> None:
        """No entry of a kind leads back to itself by the entries that ``named`` gives for each."""
        entries = self._entries[kind]
        finished: set[str] = set()
        for start in entries:
            self._follow(start, [], finished, entries, named, (kind, verb, field))

    def _follow(
        self,
        here: str,
        trail: list[str],
        finished: set[str],
        entries: Mapping[str, Any],
        named: Callable[[Any], Iterable[str]],
        words: tuple[str, str, str],
    ) -> None:
        if here in finished or here not in entries:
            return
        if here in trail:
            kind, verb, field = words
            circle = " → ".join([*trail[trail.index(here) :], here])
            wrong = f"These {kind} {verb} each other: {circle}."
            self._problems.error(self._places[f"{kind}.{here}"], wrong, f"Take one '{field}:' away.", "circle")
            finished.update(trail)
            return
        for before in named(entries[here]):
            self._follow(before, [*trail, here], finished, entries, named, words)
        finished.add(here)


def _before(check: model.Check) -> Iterable[str]:
    """What a check waits for; what is no check ends there."""
    return [*check.after, *check.inputs.values()]


# What is written once at the top of a file, for all of its entries that do not say otherwise.
_FOR_ALL = ("source", "system")

# Which fields of which kinds name entries of another kind.
_REFERENCES: dict[str, dict[str, str]] = {
    "functions": {"needs": "functions"},
    "symptoms": {
        "ask_first": "checks",
        "causes": "causes",
        "never": "causes",
        "lacks": "functions",
        "keeps": "functions",
    },
    "causes": {
        "system": "systems",
        "symptoms": "symptoms",
        "remedies": "remedies",
        "same_remedy": "causes",
        "takes": "functions",
        "as_sound": "checks",
    },
    "checks": {
        "system": "systems",
        "shows": "functions",
        "wants": "functions",
        "after": "checks",
        "presumes": "symptoms",
        "cautions": "cautions",
        "who": "people",
        "energy": "energy",
        "access": "access",
    },
    "remedies": {
        "parts": "parts",
        "proofs": "proofs",
        "after": "checks",
        "sizes": "checks",
        "cautions": "cautions",
        "who": "people",
        "energy": "energy",
        "access": "access",
    },
    "proofs": {
        "system": "systems",
        "raises": "symptoms",
        "seen": "checks",
        "after": "remedies",
        "follows": "proofs",
        "cautions": "cautions",
        "who": "people",
        "energy": "energy",
        "access": "access",
    },
    "jobs": {
        "after": "jobs",
        "reads": "checks",
        "raises": "symptoms",
        "cautions": "cautions",
        "who": "people",
        "energy": "energy",
        "access": "access",
    },
    "walks": {"jobs": "jobs", "without": "proofs"},
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


def _names(written: Any) -> tuple[str, ...]:
    return tuple(str(each) for each in (written if isinstance(written, list) else [written]))


def _ids_in(value: Any) -> Iterable[str]:
    return (value,) if isinstance(value, str) else value


def _read_distribution(value: Any, answers: tuple[str, ...], unit: str, within: Range) -> Distribution:
    if answers:
        return read_shares(value, answers, within.sound.shares if isinstance(within.sound, Shares) else None)
    return read_spread(value, lambda written: amount(written, unit), lambda written: difference(written, unit), within)


def _range_of(written: Mapping[str, Any], unit: str) -> tuple[float, float] | None:
    """The plausible range of a check as it stands in its file; what is wrong with it is said where it is read."""
    try:
        return read_range(written.get("plausible"), unit)
    except NotUnderstood:
        return None


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


def _formula_inputs(written: str) -> dict[str, Input]:
    """The inputs of the formula that ``formula:`` names, by name; none where there is no such formula."""
    from diagnose.formulas import FormulaError, find

    try:
        return {each.name: each for each in find(written.partition(".")[0]).inputs}
    except FormulaError:
        return {}


def _value_fault(wanted: Input, written: str) -> str:
    """What is wrong with a value written out for a formula's input (``24 V``, ``phase: three``); ``""`` for none."""
    if wanted.choices:
        known = {choice.casefold() for choice in wanted.choices}
        return "" if written.casefold() in known else "no check, no fact, and no choice"
    try:
        amount(written, wanted.unit)
    except NotUnderstood:
        return f"no check, no fact, and no number{f' in {wanted.unit}' if wanted.unit else ''}"
    return ""


def _formula_faults(check: model.Check) -> Iterable[tuple[tuple[str, ...], str, str]]:
    """The keys below a check, what is wrong and what to write, where its formula does not know a name."""
    if not check.formula:
        return
    from diagnose.formulas import FormulaError, all_formulas, find

    name, dot, output = check.formula.partition(".")
    try:
        formula = find(name)
    except FormulaError:
        mend = did_you_mean(name.replace("_", "-"), [each.name for each in all_formulas()])
        yield ("formula",), f"There is no formula '{name}'.", mend
        return
    gives = [each.name for each in formula.outputs]
    if dot and output not in gives:
        yield ("formula",), f"'{formula.name}' gives no '{output}'.", did_you_mean(output, gives)
    takes = {each.name: each for each in formula.inputs}
    for given in check.inputs:
        if given not in takes:
            key = ("inputs", given.replace("_", "-"))
            yield key, f"'{formula.name}' takes no '{given}'.", did_you_mean(given, takes)
    missing = [n for n, each in takes.items() if n not in check.inputs and each.default is None and not each.optional]
    if missing:
        mend = f"See 'diagnose calculate {formula.name}'."
        yield ("inputs",), f"'{formula.name}' still needs {', '.join(missing)}.", mend


def _read_parts(value: Any) -> dict[str, int]:
    if isinstance(value, str):
        value = [value]
    if isinstance(value, list):
        value = {str(item): 1 for item in value}
    if not isinstance(value, dict) or not all(isinstance(count, int) and count > 0 for count in value.values()):
        raise NotUnderstood("'parts' counts what is used.", "Write 'part-id: 1' lines.")
    return value


def _read_lacks(value: Any) -> dict[str, str]:
    """What a complaint lacks: in a list it is lost, otherwise each says how."""
    if isinstance(value, str):
        value = [value]
    if isinstance(value, list):
        value = dict.fromkeys(map(str, value), "lost")
    if not isinstance(value, dict):
        raise NotUnderstood("'lacks' names functions.", "Write 'lacks: [function-id]' or 'lacks: {function-id: weak}'.")
    known = get_args(model.Loss)
    for loss in value.values():
        if loss not in known:
            raise NotUnderstood(f"'{loss}' does not say how a function is lacking.", did_you_mean(str(loss), known))
    return value


def _sorted_out(symptom: model.Symptom) -> model.Symptom:
    """A cause that is written as impossible is none."""
    never = tuple(cause for cause, chance in symptom.causes.items() if chance == 0)
    causes = {cause: chance for cause, chance in symptom.causes.items() if chance > 0}
    return msgspec.structs.replace(symptom, causes=causes, never=(*symptom.never, *never))


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
    if check.limit and (not check.is_number or check.series == "yes"):
        yield "Only a single number reaches a limit.", "Take 'limit:' out."
