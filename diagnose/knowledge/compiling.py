"""Reading trees: files to entries, ids to entries, words to numbers, all faults at once."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import msgspec

from diagnose.knowledge import model
from diagnose.knowledge.components import Names
from diagnose.knowledge.entries import read_entry
from diagnose.knowledge.fields import Entries, Fields
from diagnose.knowledge.marked_yaml import Marked, read_marked
from diagnose.knowledge.model import KINDS
from diagnose.knowledge.problems import Place, Problems, did_you_mean
from diagnose.knowledge.references import FOR_ALL, References


def read_documents(files: Mapping[str, str], problems: Problems) -> dict[str, Marked]:
    """Each file as it is written; what cannot be read goes to ``problems`` and is left out."""
    read = ((name, read_marked(text, name, problems)) for name, text in files.items())
    return {name: marked for name, marked in read if marked is not None}


class Compiler:
    """Two passes: every entry by itself, then what ties entries together."""

    def __init__(self, problems: Problems) -> None:
        self._problems = problems
        self._entries = Entries()
        self._references = References(self._entries, problems)
        self._costs = model.Costs()
        self._exclusive: model.YesNo = "no"
        # What steps have that do not say so.
        self._usual: dict[str, str] = {}
        # The complaints that a cause names itself: (cause, symptom, place).
        self._raised: list[tuple[str, str, Place]] = []

    def compile(self, files: Mapping[str, str], digest: str) -> model.Trees | None:
        return self.compile_documents(read_documents(files, self._problems), digest)

    def compile_documents(self, documents: Mapping[str, Marked], digest: str) -> model.Trees | None:
        if any(problem.rule == "yaml" for problem in self._problems.errors):
            # What a file that cannot be read holds is missed everywhere: nothing more that is true can be said.
            return None
        for marked in documents.values():
            self._read_top(marked)
        for kind in KINDS:
            if issubclass(KINDS[kind], model.Task) and not self._usual:
                self._usual = self._usual_words(next(iter(documents), ""))
            for marked in documents.values():
                section = marked.value.get(kind) if isinstance(marked.value, dict) else None
                for identity in section if isinstance(section, dict) else ():
                    self._read(kind, identity, marked)
        self._raise_by_causes()
        self._locate()
        self._references.resolve()
        if self._problems.errors:
            return None
        return model.Trees(
            digest=digest, costs=self._costs, places=self._entries.places, exclusive=self._exclusive, **self._entries
        )

    # --- every entry by itself -----------------------------------------------------------------------------

    def _read_top(self, marked: Marked) -> None:
        """The keys of a file, and the shop's costs where they stand in this one."""
        if not isinstance(marked.value, dict):
            self._problems.error(marked.place(), "A tree is 'kind:' lines with entries below.", "See README.", "shape")
            return
        for key, value in marked.value.items():
            place = marked.place(key)
            if key == "costs":
                self._costs = read_entry(model.Costs, marked, ("costs",), self._problems) or self._costs
            elif key == "system":
                self._references.note("systems", _names(value), place)
            elif key == "exclusive":
                if value not in ("yes", "no"):
                    self._problems.error(place, f"'exclusive' is '{value}'.", "Write yes or no.", "shape")
                self._exclusive = "yes" if value == "yes" else self._exclusive
            elif key not in (*KINDS, "source"):
                mend = did_you_mean(key, [*KINDS, "costs", *FOR_ALL, "exclusive"])
                self._problems.error(place, f"'{key}' is no kind of entry.", mend, "unknown-key")
            elif key != "source" and value is not None and not isinstance(value, dict):
                self._problems.error(place, f"'{key}' holds no entries.", "Write 'id:' lines.", "shape")

    def _usual_words(self, file: str) -> dict[str, str]:
        """What a step has that does not say so; where the trees say nothing at all of it, one is made up."""
        made_up: dict[str, model.Entry] = {
            "energy": model.EnergyState(id=model.ANY, title="any state", powered="no"),
            "access": model.Access(id="here", title="here", minutes=0),
            "people": model.Person(id="anyone", title="anyone"),
        }
        places = self._entries.places
        for kind, entry in made_up.items():
            none_written = not any(place.startswith(f"{kind}.") for place in places)
            if none_written or (kind == "energy" and model.ANY not in self._entries[kind]):
                self._entries[kind][entry.id] = entry
                places.setdefault(f"{kind}.{entry.id}", Place(file, 1))
        who = model.usual_person(self._entries["people"])
        return {"who": who, "energy": model.ANY, "access": model.usual_place(self._entries["access"])}

    def _read(self, kind: str, identity: str, marked: Marked) -> None:
        path, shape, written = (kind, identity), KINDS[kind], marked.value[kind][identity]
        place = marked.place(*path)
        if self._entries.has(*path):
            wrong = f"'{identity}' is written already at {self._entries.place(*path)}."
            self._problems.error(place, wrong, "Write it once.", "duplicate-id")
            return
        self._entries.places[f"{kind}.{identity}"] = place
        if not isinstance(written, dict):
            self._problems.error(place, f"'{identity}' holds nothing.", "Write its 'key: value' lines.", "shape")
            return
        special = Fields(marked, path, self._entries, self._problems).special()
        entry = read_entry(shape, marked, path, self._problems, self._given(kind, identity, marked), special)
        if isinstance(entry, model.Symptom):
            entry = _sorted_out(entry)
        if isinstance(entry, model.Cause):
            self._raised += [(identity, each, marked.place(*path, "symptoms", each)) for each in entry.symptoms]
        if entry is not None:
            self._entries[kind][identity] = entry
            self._references.note_all(kind, entry, marked)

    def _given(self, kind: str, identity: str, marked: Marked) -> dict[str, Any]:
        """What an entry has that stands elsewhere: what is usual of steps, and what the top of its file says."""
        shape, top = KINDS[kind], marked.value
        given: dict[str, Any] = {"id": identity, **(self._usual if issubclass(shape, model.Task) else {})}
        if isinstance(top.get("source"), str):
            given["source"] = top["source"]
        if "system" in shape.__struct_fields__ and "system" in top:
            given["system"] = _names(top["system"])
        if kind == "symptoms":
            family = top.get("families")
            given["family"] = next(iter(family)) if isinstance(family, dict) and len(family) == 1 else identity
        return given

    # --- what ties them together ---------------------------------------------------------------------------

    def _raise_by_causes(self) -> None:
        """A complaint has the causes that it names, and those that name it."""
        symptoms: dict[str, model.Symptom] = self._entries["symptoms"]
        for cause, symptom, place in self._raised:
            said = symptoms.get(symptom)
            if said is None:
                continue
            if cause in said.causes or cause in said.never:
                elsewhere = self._entries.place("symptoms", symptom)
                wrong = f"How often '{cause}' is behind '{symptom}' is written at {elsewhere} too."
                self._problems.error(place, wrong, "Write it once, here or there.", "duplicate-id")
                continue
            causes = {**said.causes, cause: self._entries["causes"][cause].symptoms[symptom]}
            symptoms[symptom] = _sorted_out(msgspec.structs.replace(said, causes=causes))
        for symptom, read in symptoms.items():
            if not read.causes and not read.lacks and not self._problems.errors:
                mend = "Write 'causes:' here, or 'symptoms:' in the causes that bring it about."
                place = self._entries.place("symptoms", symptom)
                self._problems.error(place, f"Nothing causes '{symptom}'.", mend, "shape")

    def _locate(self) -> None:
        """A step that does not say at which component it is done is done at those that its title names."""
        if not self._entries["components"]:
            return
        names = Names(self._entries["components"].values(), self._entries["facts"])
        for kind, shape in KINDS.items():
            for identity, task in self._entries[kind].items() if issubclass(shape, model.Task) else ():
                if not task.at:
                    self._entries[kind][identity] = msgspec.structs.replace(task, at=names.named(task))


def _names(written: Any) -> tuple[str, ...]:
    return tuple(map(str, written if isinstance(written, list) else [written]))


def _sorted_out(symptom: model.Symptom) -> model.Symptom:
    """A cause that is written as impossible is none."""
    never = tuple(cause for cause, chance in symptom.causes.items() if chance == 0)
    causes = {cause: chance for cause, chance in symptom.causes.items() if chance > 0}
    return msgspec.structs.replace(symptom, causes=causes, never=(*symptom.never, *never))
