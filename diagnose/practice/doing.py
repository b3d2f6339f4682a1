"""What comes of each act of a practice: what the door answers, what it costs, and what happens to whoever does it.

Everything follows from the scenario, the seed and what was done, in order: the same acts give the same door, the same
minutes and the same score, today and after a power cut.
"""

from __future__ import annotations

import zlib
from collections.abc import Collection
from typing import Any, Literal

import numpy as np

from diagnose.calls.state import Answer, Try
from diagnose.calls.words import step_title, title
from diagnose.knowledge.model import ANY, Check, Job, Proof, Remedy, Task, Trees, can_do
from diagnose.practice import acts
from diagnose.practice.done import Done
from diagnose.practice.scene import Scene
from diagnose.practice.simulated import PROOFS_SHOW
from diagnose.reasoning.moving import Whereabouts, enter, state_minutes
from diagnose.reasoning.walk import inputs_of

# The chance that a door somebody has just broken shows it at the first try: an estimate.
BREAKAGE_SHOWS = 0.9
# Minutes to look over what is there of a job: an estimate.
_LOOK_MINUTES = 2.0


class Doing(Scene):
    """A scene at which things are done. Each method does one kind of act, and fills in what comes of it."""

    def __init__(self, *scene: Any) -> None:
        super().__init__(*scene)
        self._complains = True
        self._changed = False
        self._fetched: frozenset[str] = frozenset()
        # The proof that trying the door was.
        self._proved_by_trying = ""
        self._false: set[str] = set()

    def carry_out(self, act: acts.AnyAct, done: Done) -> None:
        """Do an act that can be done, and fill in what comes of it."""
        match act:
            case acts.Look():
                self._look(self.trees.checks[act.check], done)
            case acts.Mend():
                self._mend(self.trees.remedies[act.remedy], done)
            case acts.TryDoor():
                self._try(done)
            case acts.Prove():
                self._prove(self.trees.proofs[act.proof], done)
            case acts.Enter():
                self._enter(act.energy, done)
            case acts.CallIn():
                self._call_in(act.person, done)
            case acts.LookOver():
                self._look_over(self.trees.jobs[act.job], done)
            case acts.DoJob():
                self._job(act, done)
            case acts.LookInto():
                self._look_into(act.symptom, done)
            case acts.TakeUp():
                self.call.take_up("job", act.job)
                done.say("done", f"Next: {title(self.trees, 'jobs', act.job)}.")
            case acts.TakeBack():
                self.call.withdraw(act.check, "Withdrawn in practice.")
                done.say("done", f"Counted no more: {self.trees.checks[act.check].text}")
            case acts.AskFor():
                self._hint(act.about, done)
            case acts.Finish():
                self.call.close(act.outcome, act.reason)
                done.say("done", f"The call is closed: {act.outcome}.")

    # --- checks --------------------------------------------------------------------------------------------

    def _look(self, check: Check, done: Done) -> None:
        self._spend(check, "to measure" if check.is_number else "to look", done)
        self._suffer(check, done)
        dead = self.consequences.is_dead(self.trees, check, self.energy)
        spoilt = done.spoils("answer")
        done.false = dead or spoilt
        done.found = "?" if spoilt else self.consequences.found_dead(check) if dead else self.door.typed(check)
        earlier = self._earlier(check.id)
        wrongly = check.id in self._false or (earlier is not None and earlier.heard == "told")
        # A true finding takes the place of a false one, or of hearsay; further true ones join it.
        mode: Literal["new", "again", "correction"] = "correction" if wrongly else "new"
        if earlier is not None and not wrongly and check.series == "no":
            mode = "again"
        if done.false and earlier is not None and not wrongly:
            done.say("found", f"{check.text} This time: {_words(done.found)}. What you found before is kept.")
        else:
            # Only a correction has to say why.
            reason = "The first finding was spoilt, or hearsay." if mode == "correction" else ""
            self.call.answer(check.id, done.found, mode=mode, reason=reason)
            self._false = self._false | {check.id} if done.false else self._false - {check.id}
            done.say("found", f"{check.text} {_words(done.found)}")
        for computed, working in self.call.inference.workings.items():
            if check.id in inputs_of(self.trees, self.trees.checks[computed]):
                done.say("note", f"Worked out: {working.working}")

    def _earlier(self, check: str) -> Answer | None:
        """What was found before, since the last repair."""
        for item in reversed(self.call.state.evidence):
            if isinstance(item, Try):
                return None
            if isinstance(item, Answer) and item.check == check:
                return item
        return None

    # --- remedies ------------------------------------------------------------------------------------------

    def _mend(self, remedy: Remedy, done: Done) -> None:
        self._spend(remedy, "to repair", done)
        self._suffer(remedy, done)
        done.money += self.trees.price(remedy.parts)
        done.ruined = done.spoils("work")
        if self.consequences.is_dead(self.trees, remedy, self.energy):
            done.say("note", "Nothing answers: the power is off. The work is for nothing.")
        elif done.ruined:
            done.say("note", "The work is for nothing, and what it took is spent.")
        else:
            before = set(self.door.faults)
            self.door.try_remedy(remedy.id)
            done.removed = tuple(sorted(before - self.door.faults))
            self._changed = self._changed or bool(done.removed)
        self._untried.append(remedy.id)
        self._proved_by_trying = ""
        done.say("done", f"Done: {remedy.title}. Whether it helped is seen when the door is tried.")

    def _try(self, done: Done) -> None:
        """What trying the door takes is the first proof of the last remedy; the complaint itself is what is seen."""
        step = self.trial()
        self._spend(step, "to try the door", done)
        if not self._moves(
            step, done, "The door does not move: the power is off. Nothing can be seen of the complaint."
        ):
            return
        symptoms = self._active() if self.scenario.walk else self.scenario.symptoms
        if self._changed or self.scenario.walk:
            self._complains, self._changed = self._complaint_stays(), False
        done.worked = not self._complains
        if self.scenario.walk and done.worked and not self._untried and symptoms:
            # Nothing was mended, for nothing was wrong.
            self.call.judge(dict.fromkeys(symptoms, "gone"))
        able = can_do(self.trees, self.call.state.people)
        for remedy in self._untried:
            if self.trees.remedies[remedy].who in able:
                self.call.tried(remedy, worked=done.worked)
            else:
                done.say("note", "A repair by somebody who may not do it counts for nothing in the record.")
        self._untried.clear()
        self._proved_by_trying = step.id if done.worked else ""
        complaint = "; ".join(title(self.trees, "symptoms", each) for each in symptoms) or "Complaint"
        done.say("found", f"{complaint}: {'gone, as far as one can see' if done.worked else 'still so'}.")

    def _complaint_stays(self) -> bool:
        """Whether what is in the door now brings the complaint about; on a walk it is seen where it was found."""
        if self.scenario.walk:
            return any(self.door.faults & self.trees.symptoms[each].causes.keys() for each in self._active())
        pointed = [self.trees.symptoms[symptom].causes for symptom in self.scenario.symptoms]
        random = self._random("complaint")
        stays = False
        for fault in sorted(self.door.faults):
            chance = max((causes.get(fault, 0.0) for causes in pointed), default=0.0)
            stays |= bool(random.random() < (chance or BREAKAGE_SHOWS))
        return stays

    # --- proofs --------------------------------------------------------------------------------------------

    def _prove(self, proof: Proof, done: Done) -> None:
        if proof.id == self._proved_by_trying:
            # Trying the door was this proof: it takes no time again.
            self._proved_by_trying = ""
        else:
            self._spend(proof, "to prove", done)
        if not self._moves(proof, done, "Nothing moves: the power is off. Nothing is proved."):
            return
        if any(each.exposure == "not qualified" for each in done.happened):
            done.say("note", "A proof by somebody who may not sign it proves nothing.")
            return
        if refusal := self.call.ledger.refusal(proof):
            done.say("note", refusal)
            return
        done.worked = proof.id not in self._showing()
        self.call.proved(proof.id, done.worked)
        done.say("found", f"{proof.title}: {'passed' if done.worked else 'did not pass'}.")

    def _showing(self) -> set[str]:
        """The proofs that a fault left in the door shows up in: one of its remedies', or any one."""
        needed = [proof.id for proof in self.call.needed_proofs()]
        if self.scenario.walk:
            return {proof for fault in self.door.faults for proof in shown_by(self.trees, fault, needed)}
        showing: set[str] = set()
        for fault in sorted(self.door.faults):
            random = self._random(f"proof {fault}")
            if not needed or random.random() >= PROOFS_SHOW:
                continue
            own = [p for r in self.trees.causes[fault].remedies for p in self.trees.remedies[r].proofs if p in needed]
            showing.add(own[0] if own else needed[int(random.integers(len(needed)))])
        return showing

    # --- the rest ------------------------------------------------------------------------------------------

    def _enter(self, energy: str, done: Done) -> None:
        state = self.trees.energy[energy]
        done.spend(state_minutes(self.trees, state.id, self.energy), f"to bring the door to: {state.title}")
        self.call.enter(energy)
        done.say("done", f"The door is now: {state.title}.")

    def _call_in(self, person: str, done: Done) -> None:
        entry = self.trees.people[person]
        done.spend(entry.call_out, "until they are here")
        here = dict.fromkeys([*self.call.state.people, person, *entry.includes])
        self.call.state_people(tuple(here))
        done.say("done", f"Here now: {entry.title}.")

    def _hint(self, about: str, done: Done) -> None:
        price = acts.HINT_PRICE[about]
        if about == "likely":
            for item in self.call.likely()[:4]:
                done.say("hint", f"{100 * item.probability:.0f} %  {item.title}")
        elif self._untried:
            done.say("hint", f"Try the door ({title(self.trees, 'energy', self.running)}).")
        else:
            step = self.call.next_step()
            done.say("hint", f"{next_in_words(self.trees, step.kind, step.id)} {step.why}")
        done.say("note", f"That hint costs {price:.0f} points.")

    # --- the walk ------------------------------------------------------------------------------------------

    def _look_over(self, job: Job, done: Done) -> None:
        done.spend(_LOOK_MINUTES, "to look it over")
        done.say("found", f"{job.title}. You see: {self.sight(job)}")

    def _look_into(self, symptom: str, done: Done) -> None:
        self.call.state_symptoms([symptom, *self._active()])
        for proof, passed in self.call.state.proofs.items():
            # The proof that showed it waits for it.
            if not passed and symptom in self.trees.proofs[proof].raises:
                self.call.put_off("proof", proof)
        done.say("done", f"Looked into now: {title(self.trees, 'symptoms', symptom)}.")

    def _job(self, act: acts.DoJob, done: Done) -> None:
        job = self.trees.jobs[act.job]
        if act.came == "done":
            self._spend(job, "to do it", done)
            if not self._moves(job, done, "Nothing moves: the power is off. It is not done."):
                return
            if done.spoils("work"):
                done.say("note", "The work is for nothing. It is not done.")
                return
        self.call.job(act.job, act.came, act.reason)
        done.worked = act.came != "not right"
        told = {"done": "done, and held to be right", "not needed": "not needed here", "not right": "not right"}
        reason = f": {act.reason.strip().rstrip('.')}" if act.reason.strip() else ""
        done.say("done", f"{job.title}: {told[act.came]}{reason}.")

    # --- what every step takes, and may do -----------------------------------------------------------------

    def _spend(self, step: Task, on: str, done: Done) -> None:
        # In whatever state the door is: to bring it into another is an act of its own.
        fetching, here = enter(self.trees, Whereabouts(ANY, self._fetched), ANY, step.access)
        if fetching > 0:
            done.spend(fetching, f"to get ready to work {title(self.trees, 'access', step.access)}")
        done.spend(step.minutes, on)
        self._fetched = here.fetched

    def _moves(self, step: Task, done: Done, nothing: str) -> bool:
        """Whether a step has the power that it needs, and what befalls whoever runs it; ``nothing`` is said if not."""
        if self.consequences.is_dead(self.trees, step, self.energy):
            done.say("note", nothing)
            return False
        self._suffer(step, done)
        return True

    def _suffer(self, step: Task, done: Done) -> None:
        """What the wrong state does to whoever works in it, and to the door."""
        happened = self.consequences.of(
            self.trees, step, self.energy, self.call.state.people, self.call.inference.known
        )
        if self.call.walking:
            # A walk makes safe by jobs of its own.
            happened = tuple(each for each in happened if each.exposure != "not prepared")
        done.happened = happened
        for number, each in enumerate(happened):
            done.say("hurt", each.told)
            if each.mishap is None:
                continue
            done.spend(each.mishap.minutes, f"lost: {each.mishap.title}")
            done.money += each.mishap.money
            broken = self.consequences.broken_by(self.trees, each.mishap, self.scenario.facts)
            random = self._random(f"mishap {len(self.done)} {number}")
            if broken and broken not in self.door.faults and random.random() < each.mishap.chance:
                self.door.bring(broken)
                self._changed = True
                done.broke = broken
                done.say("hurt", "Something broke that was whole before.")

    def _random(self, name: str) -> np.random.Generator:
        """Chance of its own for each thing, as of how often the door has changed."""
        key = zlib.crc32(f"{name} {sorted(self.door.faults)}".encode())
        return np.random.default_rng([self.seed, key])


def shown_by(trees: Trees, fault: str, needed: Collection[str]) -> list[str]:
    """The proofs that wrong work fails at the end of a walk: those of its remedies, at best such as speak of it."""
    own = [p for r in trees.causes[fault].remedies for p in trees.remedies[r].proofs if p in needed]
    speaking = [p for p in own if any(fault in trees.symptoms[s].causes for s in trees.proofs[p].raises)]
    return speaking or own or list(needed)[:1]


def _words(found: str) -> str:
    return "Could not tell." if found == "?" else f"→ {found}"


def next_in_words(trees: Trees, kind: str, identity: str) -> str:
    """What is to be done next, in a sentence; of a check in which state."""
    title_of = step_title(trees, kind, identity)
    if kind == "check":
        return f"{title_of} ({title(trees, 'energy', trees.checks[identity].energy)})."
    lead = {"proof": "Prove: ", "energy": "Bring the door to: "}.get(kind, "")
    return f"{lead}{title_of if kind != 'stop' else identity.capitalize()}."
