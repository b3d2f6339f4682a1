"""The dispatch sheet: how soon and why, who, from where, how long, what is likely, what to load, what to have ready."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from diagnose.calls.call import Call
from diagnose.calls.verdict import Suspect
from diagnose.calls.words import cause_title
from diagnose.knowledge.model import COULD_NOT_TELL, UNLISTED, Preparation, Task, Trees, Van, can_do, chance_of, holds
from diagnose.reasoning.belief import Belief
from diagnose.reasoning.plan import Standing
from diagnose.screening.danger import Raised, dangers_now, shows_danger
from diagnose.screening.hearsay import chances, doubts, phone_inference
from diagnose.screening.interview import URGENCIES
from diagnose.screening.needs import Need, Needs, first_van
from diagnose.screening.parts import Use, VanLoad, load_van
from diagnose.screening.visit import Minutes, minutes_on_site

_MOST_LIKELY = 5
# Faults that are named as a reason to come soon.
_MOST_NAMED = 2
# Below this chance a tool, or something to have ready, is not worth a line.
_WORTH_A_LINE = 0.1


@dataclass(frozen=True)
class Sent:
    """Somebody or something that goes along, with the chance that it is needed (1: it goes in any case).

    ``why`` is what it is needed for, in a few words; empty where it goes whatever is found.
    """

    id: str
    title: str
    chance: float
    why: str = ""


@dataclass(frozen=True)
class Sheet:
    """All that is decided before anybody sets out.

    ``crew`` are who is sent, ``people`` how many they are, and ``at_site`` who should be there or on the phone.
    ``reach`` is what to work from. ``considered`` are people and things that were weighed and left at home.
    """

    urgency: str
    reasons: tuple[str, ...]
    dangers: tuple[Raised, ...]
    crew: tuple[Sent, ...]
    people: int
    at_site: tuple[Sent, ...]
    reach: tuple[Sent, ...]
    considered: tuple[Sent, ...]
    minutes: Minutes
    likely: tuple[Suspect, ...]
    unlisted: float
    load: VanLoad
    van: Van
    tools: tuple[Sent, ...]
    ready: tuple[Preparation, ...]


def make_sheet(call: Call, van: Van | None = None) -> Sheet:
    """The sheet of a call as it stands. Needs a complaint; raises ``ValueError`` where there is none."""
    if not call.symptoms:
        raise ValueError("Say first what the door does wrong.")
    return _Maker(call, van or first_van(call.trees)).sheet()


class _Maker:
    def __init__(self, call: Call, van: Van) -> None:
        self.call, self.trees, self.van = call, call.trees, van
        inference = phone_inference(call)
        self.situation, self.known, self.belief = inference.situation, inference.known, chances(inference)
        self.causes = self.situation.causes
        self.needs = Needs(self.trees, self.causes, self.situation.facts, van, doubts(call))
        # How likely each remedy is the one that ends it.
        self.remedies: Mapping[str, float] = dict(
            zip(self.needs.remedies, (float(c) for c in self.belief @ self.needs.uses), strict=True)
        )

    def sheet(self) -> Sheet:
        dangers = dangers_now(self.trees, self.call.events)
        urgency, reasons = self._urgency(dangers)
        refusal = self.call.refusal()
        reasons = (refusal, *reasons) if refusal else reasons
        crew, at_site, left = self._people(dangers)
        second = self.needs.second_person[0]
        two = second.worth(self.belief)
        reach, left_too = self._reach()
        considered = [*left, *left_too, *([] if two else [self._sent(second, "a second person")])]
        return Sheet(
            urgency=urgency,
            reasons=reasons,
            dangers=dangers,
            crew=(*crew, *([self._second(second)] if two and len(crew) < 2 else [])),
            people=max(len(crew), 2 if two else 1),
            at_site=at_site,
            reach=reach,
            considered=tuple(each for each in considered if each.chance >= 0.005),
            minutes=minutes_on_site(self._standing(crew, at_site)),
            likely=self._likely(),
            unlisted=float(self.belief[-1]),
            load=self._load(),
            van=self.van,
            tools=self._tools(),
            ready=self._ready(crew, at_site, reach),
        )

    # --- how soon ------------------------------------------------------------------------------------------

    def _urgency(self, dangers: tuple[Raised, ...]) -> tuple[str, tuple[str, ...]]:
        facts = self.call.facts
        reasons: list[tuple[str, str]] = [(each.danger.urgency, each.danger.title) for each in dangers]
        hazardous = [float(shows_danger(self.trees, cause)) for cause in self.causes[:-1]]
        danger_likely = float(self.belief[:-1] @ np.array(hazardous)) if hazardous else 0.0
        for urgency in self.trees.urgencies.values():
            if dangers and urgency.danger_likely is not None:
                # That there is a danger is known: what its chance would be otherwise says nothing more.
                continue
            likely = urgency.danger_likely is None or danger_likely >= urgency.danger_likely
            if likely and holds(urgency.applies, facts):
                why = f": {self._may_hurt()}" if urgency.danger_likely is not None else ""
                reasons.append((urgency.urgency, urgency.title + why))
        if not reasons:
            return URGENCIES[-1], ("No danger was named, and nothing that was said makes it pressing.",)
        first = min(URGENCIES.index(level) for level, _ in reasons)
        return URGENCIES[first], tuple(title for level, title in reasons if URGENCIES.index(level) == first)

    def _may_hurt(self) -> str:
        """The likeliest faults with which the door can hurt somebody, and what was said that points to them."""
        order = np.argsort(-self.belief[:-1], kind="stable")
        named = [self.causes[i] for i in order if shows_danger(self.trees, self.causes[i])][:_MOST_NAMED]
        faults = " or ".join(f"“{cause_title(self.trees, cause)}”" for cause in named)
        said = "; ".join(self.trees.symptoms[symptom].title for symptom in self.call.symptoms)
        return f"said was “{said}”, which may come from {faults}"

    # --- who, and from where -------------------------------------------------------------------------------

    def _people(self, dangers: Iterable[Raised]) -> tuple[tuple[Sent, ...], tuple[Sent, ...], list[Sent]]:
        """Who is sent, who should be at the site, and who was left at home."""
        named = {person for each in dangers for person in each.danger.who if self.trees.people[person].call_out > 0}
        weighed = {need.id: need for need in self.needs.people}
        wanted = {need.id for need in self.needs.people if need.worth(self.belief)} | named
        chances = {person: float(self.belief @ need.chance) for person, need in weighed.items()}
        chances |= dict.fromkeys(named, 1.0)
        sent = [person for person in self.trees.people if person in wanted and person not in self.van.ask]
        base = _comes_anyway(self.trees)
        if base and not any(base in self.trees.people[person].includes for person in sent):
            sent.insert(0, base)
        why = {
            person: "; ".join(each.danger.title for each in dangers if person in each.danger.who) for person in named
        }
        crew = tuple(self._person(person, chances.get(person, 1.0), why.get(person, "")) for person in sent)
        at_site = tuple(self._person(p, chances[p]) for p in self.trees.people if p in wanted and p in self.van.ask)
        left = [self._person(person, chances[person]) for person in weighed if person not in wanted]
        return crew, at_site, left

    def _reach(self) -> tuple[tuple[Sent, ...], list[Sent]]:
        """What to work from: what the van carries where any remedy needs it, and what must be brought besides."""
        places = self.needs.places
        brought = [self._place(need) for need in places if need.worth(self.belief)]
        left = [self._place(need) for need in places if not need.worth(self.belief)]
        carried = []
        for place, conditions in self.van.reaches.items():
            enough = chance_of(self.trees, conditions, self.call.facts)
            chance = enough * sum(c for r, c in self.remedies.items() if self.trees.remedies[r].access == place)
            if chance >= _WORTH_A_LINE:
                carried.append(Sent(place, _bare(self.trees.access[place].title), chance))
        return (*brought, *carried), left

    # --- what is likely, and what to take ------------------------------------------------------------------

    def _likely(self) -> tuple[Suspect, ...]:
        order = [i for i in np.argsort(-self.belief, kind="stable") if self.causes[i] != UNLISTED][:_MOST_LIKELY]
        found = []
        for i in order:
            uses = self.needs.uses[i]
            remedy = self.trees.remedies[self.needs.remedies[int(np.argmax(uses))]].title if uses.any() else ""
            found.append(
                Suspect(self.causes[i], cause_title(self.trees, self.causes[i]), float(self.belief[i]), remedy=remedy)
            )
        return tuple(found)

    def _load(self) -> VanLoad:
        uses = [Use(remedy, chance, self.trees.remedies[remedy].parts) for remedy, chance in self.remedies.items()]
        costs = self.trees.costs
        return load_van(uses, self.trees.parts, self.van, costs.second_trip, costs.money_per_minute)

    def _tools(self) -> tuple[Sent, ...]:
        """The tools of the likely remedies, and of the checks that show up the likely causes."""
        chances: dict[str, float] = {}
        for i, cause in enumerate(self.causes[:-1]):
            steps: list[Task] = [self.trees.checks[check] for check in self.trees.causes[cause].signs]
            steps += [
                self.trees.remedies[r] for r, use in zip(self.needs.remedies, self.needs.uses[i], strict=True) if use
            ]
            for tool in {tool for step in steps for tool in step.tool}:
                chances[tool] = chances.get(tool, 0.0) + float(self.belief[i])
        order = sorted(chances, key=lambda tool: (-chances[tool], tool))
        return tuple(Sent(tool, tool, chances[tool]) for tool in order if chances[tool] >= _WORTH_A_LINE)

    def _ready(self, crew: Iterable[Sent], at_site: Iterable[Sent], reach: Iterable[Sent]) -> tuple[Preparation, ...]:
        people = {each.id for each in (*crew, *at_site)}
        places = {each.id for each in reach}
        states: dict[str, float] = {}
        for remedy, chance in self.remedies.items():
            energy = self.trees.remedies[remedy].energy
            states[energy] = states.get(energy, 0.0) + chance
        families = {self.trees.symptoms[symptom].family for symptom in self.call.symptoms}
        likely_states = {state for state, chance in states.items() if chance >= 0.3}

        def fits(preparation: Preparation) -> bool:
            groups = (
                (preparation.people, people),
                (preparation.access, places),
                (preparation.energy, likely_states),
                (preparation.families, families),
            )
            return holds(preparation.applies, self.call.facts) and all(
                not wanted or here.intersection(wanted) for wanted, here in groups
            )

        return tuple(each for each in self.trees.preparations.values() if fits(each))

    def _standing(self, crew: Iterable[Sent], at_site: Iterable[Sent]) -> Standing:
        """Where the call stands once these are at the door. What a caller could not tell can be looked at there."""
        people = _with_all_they_may(self.trees, [each.id for each in (*crew, *at_site)])
        seen = {check: value for check, value in self.known.items() if value != COULD_NOT_TELL}
        return Standing(self.situation, Belief(self.belief), seen, (), self.call.energy, self.call.fetched(), people)

    def _sent(self, need: Need, title: str) -> Sent:
        return Sent(need.id, title, float(self.belief @ need.chance))

    def _person(self, person: str, chance: float, why: str = "") -> Sent:
        if not why:
            remedies = self.trees.remedies
            why = self._to_do(each for each in self.needs.remedies if person in self.needs.people_of(remedies[each]))
        # What a person is licensed for stands in brackets behind the name.
        return Sent(person, self.trees.people[person].title.partition(" (")[0], chance, why)

    def _second(self, need: Need) -> Sent:
        why = self._to_do(remedy for remedy in self.needs.remedies if self.trees.remedies[remedy].crew > 1)
        return replace(self._sent(need, "a second person"), why=why)

    def _place(self, need: Need) -> Sent:
        why = self._to_do(remedy for remedy in self.needs.remedies if need.id in self.needs.places_of(remedy))
        return replace(self._sent(need, _bare(self.trees.access[need.id].title)), why=why)

    def _to_do(self, remedies: Iterable[str]) -> str:
        """The likeliest of some repairs, as a reason."""
        likeliest = max(remedies, key=lambda remedy: self.remedies[remedy], default="")
        return f"to do: {self.trees.remedies[likeliest].title}" if likeliest else ""


def crew_people(trees: Trees, sheet: Sheet) -> tuple[str, ...]:
    """Everybody whose steps may be done once the crew of a sheet is at the door."""
    return _with_all_they_may(trees, [each.id for each in (*sheet.crew, *sheet.at_site)])


def _with_all_they_may(trees: Trees, people: Iterable[str]) -> tuple[str, ...]:
    able = can_do(trees, people)
    return tuple(person for person in trees.people if person in able)


def _comes_anyway(trees: Trees) -> str:
    """Who is sent in any case: the first who costs no call-out and may do more than anyone."""
    return next((p.id for p in trees.people.values() if p.call_out == 0 and p.includes), "")


def _bare(title: str) -> str:
    return title.removeprefix("from ")
