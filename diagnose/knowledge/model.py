"""What the trade knows, as frozen data.

Each structure is one kind of entry of the files under ``trees/``. A field's type says how it is written there:
``Rate`` reads ``35 per 1000 calls``, ``Likelihood`` reads ``probable``, and so on (see ``words``). Nothing here
knows what a door is: constructions, energy states and people are themselves entries.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import Annotated, Any, Literal, get_args

import msgspec

from diagnose.knowledge import words
from diagnose.knowledge.amounts import read_band
from diagnose.knowledge.distributions import Distribution
from diagnose.knowledge.problems import Place

Likelihood = Annotated[float, msgspec.Meta(extra={"read": words.read_likelihood})]
Chance = Annotated[float, msgspec.Meta(extra={"read": words.read_chance})]
Rate = Annotated[float, msgspec.Meta(extra={"read": words.read_rate})]
CallShare = Annotated[tuple[float, float], msgspec.Meta(extra={"read": words.read_share})]
Amount = Annotated[float, msgspec.Meta(ge=0)]
Count = Annotated[int, msgspec.Meta(ge=1)]
Text = Annotated[str, msgspec.Meta(min_length=1)]
YesNo = Literal["yes", "no"]
# Fact id → the values with which the entry applies. No entry for a fact: it applies whatever that fact is.
Conditions = dict[str, tuple[str, ...]]

# What a cause does to a function: it is gone, it is poor, it happens unasked, or it is gone now and then.
Loss = Literal["lost", "weak", "unwanted", "at times"]

# The energy state of steps that need none of their own.
ANY = "any"
# ``at:`` of a step that is done at no component: somebody is asked, a bill is read.
NOWHERE = "nowhere"
COULD_NOT_TELL = "could not tell"
UNLISTED = "unlisted"
# What one step is called → the section that such steps stand in.
STEPS = {"check": "checks", "remedy": "remedies", "proof": "proofs", "job": "jobs"}


class Entry(msgspec.Struct, frozen=True, kw_only=True):
    """What every entry has: its id, where its numbers come from, and a reviewer's note on its wording."""

    id: str
    # A published document and clause, ``common practice``, or ``estimate``.
    source: str = "estimate"
    # Who read a phrase the safety check stumbles over, and why it is right as it stands.
    reviewed: str = ""


class Fact(Entry, frozen=True, kw_only=True):
    """Something about the thing being diagnosed that decides which entries apply to it."""

    title: Text
    ask: Text
    answers: tuple[str, ...]
    many: YesNo = "no"
    # Of which doors it is a fact at all.
    applies: Conditions = {}
    # Answer → the doors that can have it; one that is not named goes with every door.
    goes_with: dict[str, Conditions] = {}
    # Where several may hold, those that never hold beside another.
    alone: tuple[str, ...] = ()
    # With a unit the answers are quantities, and formulas can take the fact as an input.
    unit: str = ""
    how: str = ""
    caller: Caller | None = None
    # Asked at the start of a call, before anything else is known.
    first: YesNo = "no"
    # Doors that differ in it are of different kinds: what calls teach, and the shop's figures, are told apart by it.
    kind: YesNo = "no"
    # Answer → the sentence that a call ends with where it is given: what these trees do not know, and who does.
    not_served: dict[str, Text] = {}
    # Answer → what it is called where a person reads it; one that is not named is called as it is.
    titles: dict[str, Text] = {}
    # The heading below which it stands among all that is known of a door.
    group: str = ""

    @property
    def served(self) -> tuple[str, ...]:
        """The answers that the trees have something to say about."""
        return tuple(answer for answer in self.answers if answer not in self.not_served)

    def called(self, answer: str) -> str:
        """An answer as a person reads it."""
        return self.titles.get(answer, answer)

    def meant(self, written: str) -> str:
        """The answer that is written as a person reads it; what is written, where it is no answer's words."""
        wanted = written.casefold()
        return next((each for each in self.answers if self.called(each).casefold() == wanted), written)


class Caller(msgspec.Struct, frozen=True):
    """How a check is put to a layman on the phone."""

    ask: Text
    # The same again in other words, for "what do you mean?".
    plain: str = ""
    # The check's answers in the caller's words; an answer not named is shown as it is.
    answers: dict[str, str] = {}


class System(Entry, frozen=True, kw_only=True):
    """A part of the job that somebody calls by one name; its causes, checks and proofs say that they are of it."""

    title: Text
    # Between which shares of all calls its causes are to come; ``source`` says why.
    share: CallShare | None = None


class Function(Entry, frozen=True, kw_only=True):
    """One thing that has to work for the whole to work, and what it needs to work itself."""

    title: Text
    needs: tuple[str, ...] = ()
    applies: Conditions = {}


class Symptom(Entry, frozen=True, kw_only=True):
    """What somebody complains of, and how strongly each cause brings that complaint about."""

    title: Text
    caller: Text
    plain: str = ""
    # How people say it, the short, blunt and misspelt ways too: what is said or typed is compared with these.
    says: tuple[str, ...] = ()
    ask_first: tuple[str, ...] = ()
    # Named here, or by the causes themselves.
    causes: dict[str, Likelihood] = {}
    # Causes that what they take away would raise, and that are never behind this complaint.
    never: tuple[str, ...] = ()
    # What does not work, and how; and what plainly works, going by the complaint.
    lacks: dict[str, Loss] = {}
    keeps: tuple[str, ...] = ()
    # What cannot or must not be tried meanwhile; it points to no cause.
    untried: tuple[str, ...] = ()
    # Checks that the complaint itself answers.
    told: tuple[str, ...] = ()
    applies: Conditions = {}
    family: str = ""


class KindRate(msgspec.Struct, frozen=True):
    """A base rate among the doors for which conditions are known to hold."""

    applies: Conditions
    base: float


class Cause(Entry, frozen=True, kw_only=True):
    """One fault that can explain symptoms."""

    title: Text
    base: Rate
    system: tuple[str, ...] = ()
    # Complaint → how many of the doors with this cause are reported so; each is added to what that symptom names.
    symptoms: dict[str, Likelihood] = {}
    applies: Conditions = {}
    # Function → what the cause does to it; what needs that function goes with it.
    takes: dict[str, Loss] = {}
    signs: dict[str, Distribution] = {}
    # Checks that look as on a sound door, although they show what the cause takes away.
    as_sound: tuple[str, ...] = ()
    # Remedy id → the chance that it removes this cause when this is the cause; none where only the cause is asked for.
    remedies: dict[str, Chance] = {}
    explain: str = ""
    # Causes no check need tell this one from, because the same remedy serves both.
    same_remedy: tuple[str, ...] = ()


class Instrument(Entry, frozen=True, kw_only=True):
    """What a reading is taken with, and how far it may be off, in the unit of the reading."""

    title: Text
    percent: Amount = 0.0
    counts: Amount = 0.0
    step: Amount = 0.0
    absolute: Amount = 0.0


class Task(Entry, frozen=True, kw_only=True):
    """What checks, remedies and proofs share: how it is done, by whom, in which state, how long it takes.

    Where a step names nobody, no state and no place, the trees' usual ones are filled in when they are read.
    """

    how: str = ""
    minutes: Amount
    who: str = ""
    energy: str = ANY
    access: str = ""
    crew: Count = 1
    tool: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    applies: Conditions = {}
    # The components it is done at, of which a door has the first that is for it; where none is written, those named in
    # its title (``knowledge.components``).
    at: tuple[str, ...] = ()


class Check(Task, frozen=True, kw_only=True):
    """Something to find out: a question, a reading, or a value computed from other readings."""

    system: tuple[str, ...] = ()
    # Exactly one of these three is written; it is the text asked.
    ask: str = ""
    measure: str = ""
    compute: str = ""
    answers: tuple[str, ...] = ()
    unit: str = ""
    plausible: tuple[float, float] | None = None
    instrument: Instrument | None = None
    healthy: Distribution | None = None
    # Which way a reading is worse, that way no sign weighs less; ``neither`` for what is a value and not a degree.
    worse: Literal["", "higher", "lower", "both", "neither"] = ""
    # Several values are typed, one a cycle; only a computed check makes something of them.
    series: YesNo = "no"
    formula: str = ""
    # Formula input → check id, fact id, or a quantity written out.
    inputs: dict[str, str] = {}
    # A reading from which the formula's result is taken away.
    measured: str = ""
    opens: dict[str, tuple[str, ...]] = {}
    closes: dict[str, tuple[str, ...]] = {}
    # Checks that come before this one, each with the answers that allow going on (none: any answer does).
    after: dict[str, tuple[str, ...]] = {}
    group: str = ""
    # Functions whose state it shows, and functions without which it cannot be done or means nothing.
    shows: tuple[str, ...] = ()
    wants: tuple[str, ...] = ()
    caller: Caller | None = None
    # Complaints that the question takes for granted: a caller who complains of none of them is not asked.
    presumes: tuple[str, ...] = ()
    # The chance that the person misreads it; the shop's usual one where not written.
    slip: Likelihood | None = None
    # How much one sound door varies here, in place of the costs' share; 1 where a door has no level of its own, as with
    # an age or the day's heat.
    within_door: Chance | None = None
    # The lowest and the highest that a door may read before something is to be done, one of them mostly infinite, and
    # where that is said.
    limit: tuple[float, float] | None = None
    limit_source: str = ""

    @property
    def sources(self) -> tuple[str, ...]:
        """What a computed check takes its numbers from, as written: checks, facts, and ``""`` where nothing is read."""
        return (*self.inputs.values(), self.measured)

    @property
    def text(self) -> str:
        return self.ask or self.measure or self.compute

    @property
    def kind(self) -> Literal["question", "reading", "computed"]:
        if self.compute:
            return "computed"
        return "reading" if self.measure else "question"

    @property
    def is_number(self) -> bool:
        """Answered by a number with a unit, whether measured or computed."""
        return not self.answers


class Remedy(Task, frozen=True, kw_only=True):
    """An action that removes a cause."""

    title: Text
    works: Chance = 0.9
    parts: dict[str, Count] = {}
    proofs: tuple[str, ...] = ()
    # Checks that are asked before it is put, each with the answers, or bands of readings, under which it is the right
    # thing to do (none: any answer does). So is found what is behind a cause, or which of its remedies fits.
    after: dict[str, tuple[str, ...]] = {}
    # Computed checks that say what size is to be fitted.
    sizes: tuple[str, ...] = ()


class Proof(Task, frozen=True, kw_only=True):
    """A check that must pass before the door returns to service."""

    title: Text
    passes_when: Text
    system: tuple[str, ...] = ()
    # ``yes``: every door it applies to needs it; ``no``: only after a remedy that names it.
    required: YesNo = "yes"
    # Not needed on a door that is known to have one of these.
    unless: Conditions = {}
    # Check → the answers, or bands of readings, that show a hazard: once seen, this has to be proved.
    seen: dict[str, tuple[str, ...]] = {}
    # One of these remedies must have been done since the hazard was seen.
    after: tuple[str, ...] = ()
    # Proofs that come first on a door that needs both, since they undo what this one shows.
    follows: tuple[str, ...] = ()
    # The complaints that a door shows where it fails.
    raises: tuple[str, ...] = ()


class Job(Task, frozen=True, kw_only=True):
    """One piece of work on a walk: something to be done at a door and seen to be right."""

    title: Text
    passes_when: Text
    # Jobs that come before it, on the walks that have them.
    after: tuple[str, ...] = ()
    # Checks that are answered with it, in order, and kept as the door's readings of that day.
    reads: tuple[str, ...] = ()
    # The complaints that a door shows where it is not right.
    raises: tuple[str, ...] = ()
    # ``yes``: it hands the list of what the owner should plan over, which stands on its card.
    lists: YesNo = "no"


class Stage(msgspec.Struct, frozen=True, kw_only=True):
    """A part of a walk, and its jobs in order."""

    title: Text
    jobs: tuple[str, ...]


class Walk(Entry, frozen=True, kw_only=True):
    """Work to be done and proved at a door, in order: putting it up, or looking it over once a year."""

    title: Text
    explain: str = ""
    # What the door is when nothing is missing.
    ends: Literal["handed over", "returned to service"] = "handed over"
    # ``yes``: every proof that the door can have, and not only those that repairs ask for.
    every_proof: YesNo = "yes"
    # ... but for these, which are of a fault that was mended.
    without: tuple[str, ...] = ()
    stages: dict[str, Stage]

    @property
    def jobs(self) -> tuple[str, ...]:
        """Every job, in the order of the walk."""
        return tuple(job for stage in self.stages.values() for job in stage.jobs)

    def stage_of(self, job: str) -> str:
        """The title of the stage that a job is part of; ``""`` where the walk has no such job."""
        return next((stage.title for stage in self.stages.values() if job in stage.jobs), "")


class Caution(Entry, frozen=True, kw_only=True):
    """A hazard notice; the word is used by its ANSI Z535.4 definition."""

    word: Literal["DANGER", "WARNING", "CAUTION", "NOTICE"]
    text: Text


class Part(Entry, frozen=True, kw_only=True):
    """A thing a remedy uses up: money, kilograms and litres on the van."""

    title: Text
    price: Amount
    weight: Amount
    volume: Amount


class Component(Entry, frozen=True, kw_only=True):
    """A thing on a door that has a name, and by which steps say where they are done."""

    title: Text
    # What else people call it; and wordings in the titles of steps that mean it, shown nowhere.
    also: tuple[str, ...] = ()
    in_titles: tuple[str, ...] = ()
    what: Text
    where: Text
    looks_like: Text
    # How it can hurt, and what follows.
    danger: str = ""
    # Where to look, as it is read out; only of what a layman can look at from the floor.
    caller: str = ""
    applies: Conditions = {}
    # ``yes``: its names stand in sentences about other things, and count only where no other name does.
    general: YesNo = "no"


class Sketch(Entry, frozen=True, kw_only=True):
    """A kind of door or drive drawn in characters, its components marked by capital letters that stand alone."""

    title: Text
    applies: Conditions = {}
    drawn: Text
    # Letter → component.
    marks: dict[str, str]

    @property
    def rows(self) -> list[str]:
        return self.drawn.rstrip("\n").split("\n")


class Source(msgspec.Struct, frozen=True, kw_only=True):
    """Energy that a door holds besides its mains, and how it is isolated."""

    how: Text
    applies: Conditions = {}


# An estimate: to switch off, or on again, with all that belongs to it.
_ENTER_MINUTES = 5.0


class EnergyState(Entry, frozen=True, kw_only=True):
    """A state in which steps are done. To enter it costs minutes and is a step of its own."""

    title: Text
    how: str = ""
    # Minutes to come here from each other state.
    enter: dict[str, Amount] = {}
    cautions: tuple[str, ...] = ()
    # What else has to be isolated or let out on the doors that have it, in order.
    sources: dict[str, Source] = {}
    # What a meter finds in this state, and whether a person can be hurt by it.
    powered: YesNo
    cover: Literal["on", "open", "any"] = "any"

    def minutes_from(self, here: str) -> float:
        """Minutes to come here from another state; an estimate where the trees do not say."""
        return self.enter.get(here, _ENTER_MINUTES)


class Access(Entry, frozen=True, kw_only=True):
    """Where a step is done from; fetching what it takes costs once."""

    title: Text
    minutes: Amount
    cautions: tuple[str, ...] = ()


class Person(Entry, frozen=True, kw_only=True):
    """Who may do a step, and whose steps they may do besides."""

    title: Text
    includes: tuple[str, ...] = ()
    # Minutes it costs to bring one who is not there.
    call_out: Amount = 0.0
    # Whoever is there, and does the steps that name nobody, unless something else is said.
    usual: YesNo = "no"


class Danger(Entry, frozen=True, kw_only=True):
    """A sign asked about in the first seconds of a call, and what to say at once when it is there."""

    title: Text
    ask: Text
    plain: str = ""
    instruction: Text
    word: Literal["DANGER", "WARNING"]
    urgency: Literal["emergency", "today"]
    applies: Conditions = {}
    # Complaints that are this danger.
    symptoms: tuple[str, ...] = ()
    who: tuple[str, ...] = ()
    # Check → the answers that mean this danger is there, whoever gives them and whenever.
    signs: dict[str, tuple[str, ...]] = {}
    # Wordings that mean it in what somebody says freely, and wordings that hold such words and do not.
    said: tuple[str, ...] = ()
    unless: tuple[str, ...] = ()
    # Whole sentences in which callers speak of it, never in the words it is asked with: simulated callers say them.
    spoken: tuple[str, ...] = ()


class Urgency(Entry, frozen=True, kw_only=True):
    """A reason to come sooner than the next free visit. The title is the reason; every condition written must hold."""

    title: Text
    urgency: Literal["emergency", "today", "next working day"]
    # Facts that must be known to be so: one that is not known gives no reason to hurry.
    applies: Conditions = {}
    # The suspects that show a sign of danger are together at least this likely.
    danger_likely: Chance | None = None


class Van(Entry, frozen=True, kw_only=True):
    """What can be taken along for one call, and what it costs, in minutes' worth, to take something for nothing."""

    title: Text
    # Kilograms and litres that are left for the parts of one call.
    weight: Amount
    volume: Amount
    # To look out one kind of part and put it back, to handle a kilogram, and the share of its price that is lost.
    picking: Amount = 2.0
    per_kilogram: Amount = 0.2
    wear: Chance = 0.005
    # A place to work from that it carries what is needed for → the doors for which that is enough.
    reaches: dict[str, Conditions] = {}
    # ... and where it is not enough, the place to work from instead.
    beyond: dict[str, str] = {}
    # To send a person, a ``second person``, or what it takes to work from a place; and to ask for one at the site.
    send: dict[str, Amount] = {}
    ask: dict[str, Amount] = {}


class Preparation(Entry, frozen=True, kw_only=True):
    """What the customer should have ready. Of each list that is written, one must be part of the visit."""

    title: Text
    # As it is said to the customer.
    caller: Text
    people: tuple[str, ...] = ()
    access: tuple[str, ...] = ()
    energy: tuple[str, ...] = ()
    families: tuple[str, ...] = ()
    applies: Conditions = {}


# ... where the costs do not say: an estimate. The last is what the rate of all doors is worth against a count of doors
# of one kind.
USUAL_WORTH = {"published": 200.0, "counted": 100.0, "common practice": 50.0, "estimate": 20.0, "all kinds": 50.0}


class Costs(msgspec.Struct, frozen=True, kw_only=True):
    """One scale for minutes, money, travel and discomfort; a shop changes it in ``shared/costs.yaml``."""

    money_per_minute: Amount = 1.5
    # Minutes' worth of reluctance added to each step done in a state, from a place, or by a crew of two.
    discomfort: dict[str, Amount] = {}
    # Minutes' worth of every check beyond its work: its card is read, the meter put down, the answer written.
    asking: Amount = 0.0
    # Minutes to give a door up to somebody else, when nothing known explains it.
    hand_over: Amount = 150.0
    second_trip: Amount = 120.0
    # The chance that a trained person, or a caller, misreads or misreports an answer.
    slip: Likelihood = 0.02
    caller_slip: Likelihood = 0.12
    # What each answer counts for: 1 where answers tell independently of each other, less where what one door shows in
    # one place it tends to show in others, so that ten answers are less than ten times one.
    independence: Annotated[float, msgspec.Meta(gt=0, le=1)] = 1.0
    # How often the cause is one that no tree names.
    unlisted: Likelihood = 0.03
    # How strongly a complaint points at a cause that its symptom does not name.
    unnamed_cause: Likelihood = 0.02
    # ... and at one that it does not name, and that takes away what the complaint lacks.
    implied_cause: Likelihood = 0.02
    # How much a sound door varies from day to day, as a share of how much sound doors differ from one another.
    within_door: Chance = 0.3
    # How often what was read when a door was right is its level no more, though the door is sound: something was set or
    # changed without a word, or is read in another way. Then it reads as any sound door.
    changed_since: Likelihood = 0.1
    # What a number is worth against what closed calls say of it, in calls, by where it came from (``USUAL_WORTH``).
    worth: dict[str, Amount] = {}
    # A call counts half as much after so many years.
    half_life: Amount = 2.0
    # A number is left as it is where it has met fewer calls than this.
    enough: Amount = 5.0
    # At most this share of what is flagged as untrue in the trees is flagged falsely.
    false_alarms: Likelihood = 0.05
    currency: str = "$"


class Phrase(Entry, frozen=True, kw_only=True):
    """Words that no text may hold, because whoever follows them could be hurt; ``knowledge.phrases`` reads patterns."""

    title: Text
    words: tuple[str, ...]
    # Wordings that hold such words and are harmless.
    unless: tuple[str, ...] = ()
    # ``caller``: only what a caller is told.
    where: Literal["anywhere", "caller"] = "anywhere"
    mend: Text


class Hazard(Entry, frozen=True, kw_only=True):
    """What a step touches, and what follows from it. The first group of fields says which steps; all must fit."""

    title: Text
    why: Text
    energy: tuple[str, ...] = ()
    access: tuple[str, ...] = ()
    kinds: tuple[Literal["checks", "remedies", "proofs", "jobs"], ...] = ()
    words: tuple[str, ...] = ()
    unless: tuple[str, ...] = ()
    # Cautions that all stand before the step, and cautions of which one does.
    cautions: tuple[str, ...] = ()
    one_of: tuple[str, ...] = ()
    # The only people who may do it, and the only states in which it may be done.
    only_by: tuple[str, ...] = ()
    only_in: tuple[str, ...] = ()


class Assurance(Entry, frozen=True, kw_only=True):
    """What must have been proved on a door before it returns to service, said apart from the proofs themselves."""

    title: Text
    why: Text
    applies: Conditions = {}
    unless: Conditions = {}
    # One of these, required on every such door.
    proofs: tuple[str, ...]
    # The only people who may run it.
    only_by: tuple[str, ...] = ()


class Family(Entry, frozen=True, kw_only=True):
    """A group of symptoms kept in one file."""

    title: Text
    explain: str = ""


class Language(Entry, frozen=True, kw_only=True):
    """The texts of another language; keys are ``checks.eye-lamp.caller.ask`` and the like."""

    title: Text
    texts: dict[str, str]


class Saying(Entry, frozen=True, kw_only=True):
    """How people say each complaint in the language of this id: symptom → ways."""

    says: dict[str, tuple[str, ...]]


class Synonym(Entry, frozen=True, kw_only=True):
    """Words and phrases that mean one thing, for finding what is said or typed; shown nowhere."""

    words: tuple[str, ...]
    # The language of the words, by its id; empty for that of the trees.
    language: str = ""


class Trees(msgspec.Struct, frozen=True, kw_only=True):
    """All that is known. ``places`` maps ``kind.id`` to the line an entry starts on; ``digest`` names the content."""

    digest: str
    places: dict[str, Place]
    costs: Costs
    # At most one cause at a time can be there.
    exclusive: YesNo = "no"
    # Cause → its base rate on doors of a kind, where calls have shown it to be another there (``knowledge.learned``).
    kind_rates: dict[str, tuple[KindRate, ...]] = {}
    # What is named comes before what names it.
    families: dict[str, Family]
    systems: dict[str, System] = {}
    facts: dict[str, Fact]
    cautions: dict[str, Caution]
    components: dict[str, Component] = {}
    sketches: dict[str, Sketch] = {}
    parts: dict[str, Part]
    instruments: dict[str, Instrument]
    energy: dict[str, EnergyState]
    access: dict[str, Access]
    people: dict[str, Person]
    proofs: dict[str, Proof]
    remedies: dict[str, Remedy]
    functions: dict[str, Function] = {}
    checks: dict[str, Check]
    causes: dict[str, Cause]
    symptoms: dict[str, Symptom]
    dangers: dict[str, Danger]
    languages: dict[str, Language]
    phrases: dict[str, Phrase] = {}
    hazards: dict[str, Hazard] = {}
    assurances: dict[str, Assurance] = {}
    urgencies: dict[str, Urgency] = {}
    vans: dict[str, Van] = {}
    preparations: dict[str, Preparation] = {}
    synonyms: dict[str, Synonym] = {}
    sayings: dict[str, Saying] = {}
    jobs: dict[str, Job] = {}
    walks: dict[str, Walk] = {}

    @property
    def all_rates(self) -> float:
        """What all base rates come to, where that is more than all calls; otherwise 1.

        Rates are relative: a cause more never asks for another's rate to be changed.
        """
        return max(1.0, sum(cause.base for cause in self.causes.values()))

    def price(self, parts: Mapping[str, int]) -> float:
        """What so many of each part cost together, in the ``currency``."""
        return sum(self.parts[part].price * count for part, count in parts.items())

    def task(self, kind: str, identity: str) -> Task | None:
        """The check, remedy, proof or job of that name; ``None`` where it is none of these."""
        named: Mapping[str, Task] = getattr(self, STEPS[kind]) if kind in STEPS else {}
        return named.get(identity)

    def steps(self) -> Iterator[tuple[str, Task]]:
        """Every check, remedy, proof and job, with the name of its kind."""
        for kind in STEPS.values():
            for step in getattr(self, kind).values():
                yield kind, step

    def place(self, kind: str, identity: str) -> Place:
        return self.places[f"{kind}.{identity}"]


# The sections of a tree, each with the shape of its entries, in the order they are read.
KINDS: dict[str, type[Entry]] = {
    field.name: get_args(field.type)[1]
    for field in msgspec.structs.fields(Trees)
    if field.name not in ("digest", "costs", "places", "exclusive", "kind_rates")
}

Facts = Mapping[str, str | tuple[str, ...]]


def applies(conditions: Conditions, facts: Facts) -> bool:
    """Whether an entry is for this door. A fact that is not known excludes nothing."""
    for fact, allowed in conditions.items():
        known = facts.get(fact)
        if known is None:
            continue
        values = (known,) if isinstance(known, str) else known
        if not any(value in allowed for value in values):
            return False
    return True


def base_rate(trees: Trees, cause: str, facts: Facts) -> float:
    """A cause's base rate on a door with these facts."""
    of_kind = (rate.base for rate in trees.kind_rates.get(cause, ()) if holds(rate.applies, facts))
    return next(of_kind, trees.causes[cause].base)


def chance_of(trees: Trees, conditions: Conditions, facts: Facts, doubts: Mapping[str, float] | None = None) -> float:
    """The chance that conditions hold.

    Of a fact that is not known, every answer is as likely as the others; so is every other answer, where the one that
    was told is wrong, which it is with the chance that ``doubts`` gives.
    """
    chance = 1.0
    for fact, allowed in conditions.items():
        answers = trees.facts[fact].answers
        if fact not in facts:
            chance *= len(allowed) / len(answers)
            continue
        so, doubt = applies({fact: allowed}, facts), (doubts or {}).get(fact, 0.0)
        others = max(len(answers) - 1, 1)
        chance *= (1 - doubt) * so + doubt * (len(allowed) - so) / others
    return chance


def holds(conditions: Conditions, facts: Facts) -> bool:
    """Whether conditions are known to hold: unlike with ``applies``, a fact that is not known says no."""
    return all(fact in facts for fact in conditions) and applies(conditions, facts)


def applies_to(proof: Proof, facts: Facts) -> bool:
    """Whether a proof is for this door; what is not known excuses from nothing."""
    return applies(proof.applies, facts) and not excused(proof, facts)


def excused(proof: Proof, facts: Facts) -> bool:
    """Whether a door is known to have what a proof stands in for."""
    return bool(proof.unless) and holds(proof.unless, facts)


def shows(check: Check, value: str | float, answers: Iterable[str]) -> bool:
    """Whether a check's answer, or its reading in the check's unit, is one of ``answers`` (words, or bands)."""
    if isinstance(value, str):
        return value in answers
    bands = (read_band(each, check.unit) for each in answers)
    return any(band is not None and band[0] <= value <= band[1] for band in bands)


def isolation(state: EnergyState, facts: Facts) -> tuple[str, ...]:
    """How every other source of energy that a door may have is isolated to enter ``state``, in order."""
    return tuple(source.how for source in state.sources.values() if applies(source.applies, facts))


def can_do(trees: Trees, people: Iterable[str]) -> set[str]:
    """Those whose steps ``people`` may do: themselves, and whoever they include."""
    return set(all_from(people, lambda person: trees.people[person].includes if person in trees.people else ()))


def all_from(starts: Iterable[str], following: Callable[[str], Iterable[str]]) -> dict[str, None]:
    """``starts`` and all that follows from them, step by step, each once, as they are come upon."""
    found: dict[str, None] = {}
    waiting = list(starts)
    while waiting:
        name = waiting.pop()
        if name not in found:
            found[name] = None
            waiting += following(name)
    return found


def usual_person(people: Mapping[str, Person]) -> str:
    """Who does the steps that name nobody: whoever is marked so; otherwise, of those who cost least to bring, the one
    who includes most of the others."""
    marked = [person.id for person in people.values() if person.usual == "yes"]
    by_default = sorted(people.values(), key=lambda person: (person.call_out, -len(person.includes)))
    return next(iter([*marked, *(person.id for person in by_default)]), "")


def usual_people(trees: Trees) -> tuple[str, ...]:
    """Who is there where nobody is named, those included among them."""
    marked = [person.id for person in trees.people.values() if person.usual == "yes"]
    able = can_do(trees, marked or [usual_person(trees.people)])
    return tuple(person for person in trees.people if person in able)


def usual_place(access: Mapping[str, Access]) -> str:
    """Where steps are done that name no place: the first that costs nothing to get to."""
    free = (place.id for place in access.values() if place.minutes == 0)
    return next(free, next(iter(access), ""))


def power_state(trees: Trees) -> str:
    """The state to try a door in: with power, and closed up if there is such a one; ``""`` where none has power."""
    powered = [state for state in trees.energy.values() if state.powered == "yes"]
    closed = [state for state in powered if state.cover == "on"]
    return (closed or powered)[0].id if powered else ""


def is_powered(trees: Trees, energy: str) -> bool:
    """Whether a step in this state has power at the door; a state that is not known does."""
    return energy == ANY or energy not in trees.energy or trees.energy[energy].powered == "yes"


class Held:
    """Trees as a key of a cache: equal by their digest, so that a thing is made once for each content."""

    def __init__(self, trees: Trees) -> None:
        self.trees = trees

    def __hash__(self) -> int:
        return hash(self.trees.digest)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Held) and other.trees.digest == self.trees.digest


def as_facts(written: Mapping[str, Any]) -> dict[str, str | tuple[str, ...]]:
    """Facts as a person or a file gives them, lists made into tuples."""
    return {
        key: tuple(value) if isinstance(value, (list, tuple, set)) else str(value) for key, value in written.items()
    }
