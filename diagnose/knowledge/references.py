"""What the entries of trees name: every id, condition and answer is looked up, and every circle refused."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from graphlib import CycleError, TopologicalSorter
from typing import Any

from diagnose.knowledge import model
from diagnose.knowledge.amounts import read_band
from diagnose.knowledge.fields import Entries
from diagnose.knowledge.fitting import can_be, hangs_on
from diagnose.knowledge.marked_yaml import Marked
from diagnose.knowledge.problems import Place, Problems, did_you_mean
from diagnose.knowledge.sound_checks import check_faults, formula_faults, input_fault

# What is written once at the top of a file, for all of its entries that do not say otherwise.
FOR_ALL = ("source", "system")

# Which fields of which kinds name entries of another kind; the first of every kind that is a step.
_OF_STEPS = {"cautions": "cautions", "who": "people", "energy": "energy", "access": "access", "at": "components"}
_REFERENCES: dict[str, dict[str, str]] = {
    "functions": {"needs": "functions"},
    "symptoms": {
        "ask_first": "checks",
        "causes": "causes",
        "never": "causes",
        "lacks": "functions",
        "keeps": "functions",
        "untried": "functions",
        "told": "checks",
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
        "opens": "checks",
        "closes": "checks",
        "measured": "checks",
        "presumes": "symptoms",
    },
    "remedies": {"parts": "parts", "proofs": "proofs", "after": "checks", "sizes": "checks"},
    "proofs": {"system": "systems", "raises": "symptoms", "seen": "checks", "after": "remedies", "follows": "proofs"},
    "jobs": {"after": "jobs", "reads": "checks", "raises": "symptoms"},
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
    "sketches": {"marks": "components"},
    "preparations": {"people": "people", "access": "access", "energy": "energy", "families": "families"},
}
# ... which of these name them by what stands behind their keys,
_IN_VALUES = ("opens", "closes", "marks")
# ... and which hold answers of the checks that they name.
_ANSWERS = (("dangers", "signs"), ("proofs", "seen"), ("checks", "after"), ("remedies", "after"))


class References:
    """Noted entry by entry as they are read, and looked up when all are there."""

    def __init__(self, entries: Entries, problems: Problems) -> None:
        self._entries, self._problems = entries, problems
        # Where a reference is written: (kind wanted, id, place).
        self._noted: list[tuple[str, str, Place]] = []
        # What a formula is fed with: (formula, input, what is written, place).
        self._fed: list[tuple[str, str, str, Place]] = []

    # --- noting --------------------------------------------------------------------------------------------

    def note(self, wanted: str, names: Iterable[str], place: Place) -> None:
        """Names of entries of a kind that stand at ``place``."""
        self._noted.extend((wanted, name, place) for name in names)

    def note_all(self, kind: str, entry: Any, marked: Marked) -> None:
        """All that an entry names, with what is plainly wrong in it."""

        def place(field: str, *path: str) -> Place:
            return marked.place(kind, entry.id, field.replace("_", "-"), *path)

        of_steps = _OF_STEPS if isinstance(entry, model.Task) else {}
        for field, wanted in {**of_steps, **_REFERENCES.get(kind, {})}.items():
            if field not in FOR_ALL or field in marked.value[kind][entry.id]:
                for key, names in _names_in(getattr(entry, field), field in _IN_VALUES):
                    self.note(wanted, (name for name in names if name not in ("", model.NOWHERE)), place(field, key))
        if kind == "vans":
            self.note("access", entry.beyond.values(), place("beyond"))
        if kind == "facts":
            for field in ("not_served", "titles", "goes_with", "alone"):
                for answer in set(getattr(entry, field)) - set(entry.answers):
                    mend = did_you_mean(answer, entry.answers)
                    self._unknown(place(field, answer), f"'{answer}' is not an answer of this fact.", mend)
            if entry.alone and entry.many == "no":
                wrong = "Only one answer to this can hold, so that each of them stands alone."
                self._problems.error(place("alone"), wrong, "Take 'alone' out, or write 'many: yes'.", "shape")
        if kind == "checks":
            for path, wrong, mend in formula_faults(entry):
                self._unknown(place(*path), wrong, mend)
            for name, value in entry.inputs.items():
                self._fed.append((entry.formula, name, value, place("inputs", name.replace("_", "-"))))
            for field, led in (("opens", entry.opens), ("closes", entry.closes)):
                for answer in led:
                    self._resolve_answers(
                        entry, [answer] if answer != model.COULD_NOT_TELL else [], place(field, answer)
                    )

    # --- looking up ----------------------------------------------------------------------------------------

    def resolve(self) -> None:
        """Every id names an entry; conditions name facts and their values; ``after`` never runs in a circle."""
        entries = self._entries
        for wanted, name, place in self._noted:
            if not entries.has(wanted, name):
                mend = did_you_mean(name, entries[wanted])
                self._unknown(place, f"'{name}' is not among the {wanted}.", mend)
        sound = len(self._problems.errors)
        self._refuse_circles("facts", "hang on", "applies' or 'goes-with", hangs_on)
        for conditions, place in self._conditions():
            self._resolve_conditions(conditions, place)
        if len(self._problems.errors) == sound:
            self._refuse_impossible()
        for kind, field in _ANSWERS:
            for entry in entries[kind].values():
                for check, answers in getattr(entry, field).items():
                    if check in entries["checks"]:
                        self._resolve_answers(entries["checks"][check], answers, entries.place(kind, entry.id))
        for proof in entries["proofs"].values():
            if proof.after and not proof.seen:
                place = entries.place("proofs", proof.id)
                self._problems.error(place, "'after' goes with what was seen.", "Write 'seen:' too.", "shape")
        for check in entries["checks"].values():
            for wrong, mend in check_faults(check):
                self._problems.error(entries.place("checks", check.id), wrong, mend, "shape")
        for formula, name, written, place in self._fed:
            if not entries.has("checks", written) and not entries.has("facts", written):
                fault, choices = input_fault(formula, name, written)
                if fault:
                    mend = did_you_mean(written, {*entries["checks"], *entries["facts"], *choices})
                    self._unknown(place, f"Input '{name}' is '{written}', which is {fault}.", mend)
        self._refuse_circles("checks", "wait for", "after", lambda check: [*check.after, *check.inputs.values()])
        self._refuse_circles("jobs", "wait for", "after", lambda job: job.after)
        self._refuse_circles("proofs", "follow", "follows", lambda proof: proof.follows)
        self._refuse_circles("functions", "need", "needs", lambda function: function.needs)

    def _conditions(self) -> Iterator[tuple[model.Conditions, Place]]:
        """All that hangs on the facts of a door, and where it is written."""
        for kind, entries in self._entries.items():
            for entry in entries.values():
                some = [getattr(entry, "applies", {})]
                some += entry.goes_with.values() if kind == "facts" else ()
                some += [entry.unless] if kind == "proofs" else []
                some += entry.reaches.values() if kind == "vans" else ()
                some += [source.applies for source in entry.sources.values()] if kind == "energy" else []
                yield from ((each, self._entries.place(kind, entry.id)) for each in some)

    def _resolve_conditions(self, conditions: model.Conditions, place: Place) -> None:
        facts: Mapping[str, model.Fact] = self._entries["facts"]
        for name, wrong, mend in fact_faults(facts, conditions):
            if name in facts or not self._entries.has("facts", name):
                self._unknown(place, wrong, mend)

    def _refuse_impossible(self) -> None:
        """No conditions that the facts' own keep from ever being met."""
        facts: Mapping[str, model.Fact] = self._entries["facts"]
        every = list(self._conditions())
        for name, fact in facts.items():
            every += [({name: (answer,)}, self._entries.place("facts", name)) for answer in fact.goes_with]
        met: dict[str, bool] = {}
        for conditions, place in every:
            said = "; ".join(f"{name} {', '.join(allowed)}" for name, allowed in conditions.items())
            if said not in met:
                met[said] = can_be(facts, conditions)
            if not met[said]:
                mend = "Change it, or 'applies', 'goes-with' or 'alone' of one of these facts."
                self._problems.error(place, f"No door can be so: {said}.", mend, "never-met")

    def _resolve_answers(self, check: model.Check, answers: Iterable[str], place: Place) -> None:
        for answer in answers:
            if check.is_number and read_band(answer, check.unit) is None:
                wrong = f"'{answer}' is no band of readings of '{check.id}'."
                self._problems.error(place, wrong, "Write 'below 20 V' or 'above 3 V'.", "shape")
            elif not check.is_number and answer not in check.answers:
                mend = did_you_mean(answer, check.answers)
                self._unknown(place, f"'{answer}' is not an answer of '{check.id}'.", mend)

    def _refuse_circles(self, kind: str, verb: str, field: str, named: Callable[[Any], Iterable[str]]) -> None:
        """No entry of a kind leads back to itself by the entries that ``named`` gives for each."""
        entries = self._entries[kind]
        ties = [(name, other) for name in entries for other in named(entries[name]) if other in entries]
        if _leads_on(ties):
            return
        # Loaded only to tell a circle: it takes as long as reading small trees.
        import networkx

        for part in networkx.strongly_connected_components(networkx.DiGraph(ties)):
            within = [tie for tie in ties if part.issuperset(tie)]
            if within:
                circle = [start for start, _ in networkx.find_cycle(networkx.DiGraph(within))]
                wrong = f"These {kind} {verb} each other: {' → '.join([*circle, circle[0]])}."
                place = self._entries.place(kind, circle[0])
                self._problems.error(place, wrong, f"Take one '{field}:' away.", "circle")

    def _unknown(self, place: Place, wrong: str, mend: str) -> None:
        self._problems.error(place, wrong, mend, "unknown-id")


def _leads_on(ties: Iterable[tuple[str, str]]) -> bool:
    """Whether no way along ``ties`` leads back to where it began."""
    sorter: TopologicalSorter[str] = TopologicalSorter()
    for start, end in ties:
        sorter.add(end, start)
    try:
        sorter.prepare()
    except CycleError:
        return False
    return True


def fact_faults(facts: Mapping[str, model.Fact], said: model.Facts) -> Iterator[tuple[str, str, str]]:
    """What is said of facts that are not known, or is no answer to one: the fact's name, what is wrong, what to do."""
    for name, value in said.items():
        answers = facts[name].answers if name in facts else ()
        if name not in facts:
            yield name, f"'{name}' is no fact.", did_you_mean(name, facts)
            continue
        for each in (value,) if isinstance(value, str) else value:
            if each not in answers:
                yield name, f"'{each}' is no answer to '{name}'.", did_you_mean(each, answers)


def _names_in(value: Any, in_values: bool) -> Iterator[tuple[str, Iterable[str]]]:
    """What a field names, each under the key below which it stands."""
    if isinstance(value, Mapping) and in_values:
        yield from ((key, (names,) if isinstance(names, str) else names) for key, names in value.items())
    else:
        yield from ((name, (name,)) for name in ((value,) if isinstance(value, str) else value))
