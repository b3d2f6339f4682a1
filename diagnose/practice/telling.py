"""Practice said in plain lines: the first screen, the debriefing, progress and class, the same on every front end."""

from __future__ import annotations

from diagnose.calls.words import Told, facts_in_words, parts_of, step_title, title
from diagnose.knowledge.model import Check, Proof, Remedy, Task, Trees, applies
from diagnose.knowledge.words import about, counted, minutes
from diagnose.practice.debrief import HABIT_TITLES, NOTICE, Debrief, chains, sparkline, turns, wrong_in_words
from diagnose.practice.judging import WRONG_FROM, told_in_words
from diagnose.practice.progress import Advice, Progress
from diagnose.practice.records import Practice
from diagnose.practice.scenario import Scenario
from diagnose.practice.trainer import ClassView

_MOST_TURNS = 10
_LATEST = 10


def opening(trees: Trees, scenario: Scenario) -> list[Told]:
    """All that a trainee knows at the start."""
    lines = [
        Told("heading", f"{scenario.title} ({scenario.level})"),
        Told("text", f"{scenario.site}, {scenario.door}."),
        Told("text", scenario.story),
    ]
    lines += [Told("item", f"Complaint: {trees.symptoms[symptom].title}.") for symptom in scenario.symptoms]
    if scenario.walk:
        walk = trees.walks[scenario.walk]
        count = sum(applies(trees.jobs[job].applies, scenario.facts) for job in walk.jobs)
        said = f"{walk.title}. Others began it: {count} jobs to go through, then every proof of this door."
        lines.append(Told("item", f"Work: {said}"))
    for check, said in scenario.caller.items():
        lines.append(Told("item", f"Asked “{trees.checks[check].text}”, the caller says: {said}."))
    lines.append(Told("item", "; ".join(f"{name}: {value}" for name, value in facts_in_words(trees, scenario.facts))))
    named = [person for person in scenario.people if person != "anyone"] or scenario.people
    here = ", ".join(trees.people[person].title for person in named)
    lines.append(Told("item", f"At the door: {here}."))
    return lines


def step(trees: Trees, entry: Task) -> list[Told]:
    """What a step is, how long it takes, who does it, with what, and how. Which state it needs is for the trainee."""
    kind = {Check: "check", Remedy: "remedy", Proof: "proof"}[type(entry)]
    facts = [minutes(entry.minutes), f"by: {title(trees, 'people', entry.who)}", *entry.tool]
    if entry.access in trees.access and trees.access[entry.access].minutes > 0:
        place = trees.access[entry.access]
        facts.append(f"{place.title} ({minutes(place.minutes)} to get ready, once)")
    lines = [Told("heading", step_title(trees, kind, entry.id)), Told("text", ", ".join(facts))]
    if isinstance(entry, Remedy) and entry.parts:
        lines.append(Told("text", f"Parts: {parts_of(trees, entry)}."))
    if isinstance(entry, Proof):
        lines.append(Told("text", f"Passes when: {entry.passes_when}"))
    return [*lines, Told("text", f"How: {entry.how}")] if entry.how else lines


def debriefing(found: Debrief) -> list[Told]:
    """A debriefing for a terminal: the same as the page, without its tables."""
    session, trees = found.session, found.session.trees
    currency = trees.costs.currency
    cost = f"{minutes(session.clock)}, {currency}{session.money:.0f} of parts"
    lines = [Told("heading", f"Debriefing: {session.scenario.title}. {cost}.")]
    for each in wrong_in_words(session) if session.scenario.walk else ():
        lines.append(Told("heading", f"Done wrongly: {each.what}"))
        lines += [Told("text", text) for text in (each.found, each.passed) if text]
        lines.append(Told("text", f"At a door handed over so: {each.comes}"))
    for cause in session.scenario.causes if not session.scenario.walk else ():
        lines.append(Told("text", f"It was: {trees.causes[cause].title}. {trees.causes[cause].explain}".rstrip()))
    lines += [Told("text", f"In the chain of functions: {place}") for place in chains(session)]
    for item in found.judged:
        if item.done.broke:
            lines.append(Told("text", f"Broken on the way: {trees.causes[item.done.broke].title}."))
    if session.scenario.teaches:
        lines.append(Told("text", f"It teaches: {session.scenario.teaches}"))
    lines.append(Told("heading", f"Score: {found.score.total:.0f} of 100"))
    for part in found.score.parts:
        points = "not shown" if part.points is None else f"{part.points:.0f} of {part.most:.0f}"
        lost = f": {'; '.join(part.lost_by)}" if part.lost_by else ""
        lines.append(Told("item", f"{HABIT_TITLES[part.habit]}: {points}{lost}"))
    if found.score.hints:
        lines.append(Told("item", f"Hints: -{found.score.hints:.0f}"))
    if found.better:
        lines.append(Told("heading", "To do better"))
        lines += [Told("item", f"{number}. {text}") for number, text in enumerate(found.better, start=1)]
    if session.scenario.walk:
        lines += _turns(found)
    else:
        lines += [*_where_it_went_wrong(found), *_way(found)]
    if found.own:
        yours = f"yours took {minutes(session.clock)}{', without all of them' if found.missing_proofs else ''}"
        said = f"The best way through this door, proofs and all: {minutes(found.own_minutes)}; {yours}"
        lines.append(Told("heading", said))
        lines += [Told("item", f"{number}. {text}") for number, text in enumerate(found.own, start=1)]
    if not session.scenario.walk:
        lines.append(Told("heading", "How sure you could be of the true cause, act by act"))
    for cause in session.scenario.causes if not session.scenario.walk else ():
        lines.append(Told("item", f"{sparkline(found.points, cause)}  {trees.causes[cause].title}"))
    for name, texts in (
        ("Parts bought for nothing", _wasted(found)),
        ("Cautions passed over", [each.told for item in found.judged for each in item.done.happened]),
        ("Proofs missed", [trees.proofs[proof].title for proof in found.missing_proofs]),
    ):
        lines.append(Told("heading", name))
        lines += [Told("item", text) for text in texts or ["None."]]
    return [*lines, Told("text", NOTICE)]


def _turns(found: Debrief) -> list[Told]:
    """Of a walk: the acts at which it turned."""
    lines = [Told("heading", "Where it turned")]
    for item in turns(found.judged):
        fault = f" ← {item.fault}" if item.fault else ""
        lines.append(Told("item", f"{item.done.clock:.0f} min: {item.text}{fault}"))
    return lines


def _where_it_went_wrong(found: Debrief) -> list[Told]:
    wrong = found.first_wrong
    if wrong is None:
        return [Told("heading", "Every step was as good as the best from what was known")]
    number = found.judged.index(wrong) + 1
    lines = [Told("heading", f"Where it first went wrong: step {number}"), Told("text", wrong.text)]
    lines.append(Told("text", wrong.fault))
    if wrong.best and wrong.loss >= WRONG_FROM:
        lines.append(Told("text", f"Better from the same knowledge: {wrong.best} {wrong.why}"))
    return lines


def _way(found: Debrief) -> list[Told]:
    lines = [Told("heading", "Your way beside the best")]
    for number, item in enumerate(found.judged, start=1):
        told = f"; {said}" if (said := told_in_words(item.gained)) else ""
        better = f" ← better: {item.best} (lost {about(item.loss)})" if item.best else ""
        lines.append(Told("item", f"{number}. {minutes(item.done.clock)}: {item.text}{told}{better}"))
    return lines


def _wasted(found: Debrief) -> list[str]:
    trees = found.session.trees
    return [
        f"{trees.remedies[waste.remedy].title}, {trees.costs.currency}{waste.money:.0f}"
        + (" (the best plan would have risked it too; it costs no points)" if waste.forgiven else "")
        for waste in found.wasted
    ]


def progress(
    trees: Trees, trainee: str, made: Progress, practices: list[Practice], advice: Advice | None
) -> list[Told]:
    """What somebody can do by now, and what comes next."""
    count = len(made.finished)
    stands = f"{counted(count, 'practice')}, at {100 * made.overall:.0f} %" if count else "no practice finished yet"
    lines = [Told("heading", f"{trainee}: {stands}")]
    if advice is not None:
        lines.append(Told("text", f"Next: {advice.scenario.title} ({advice.scenario.id}). {advice.why}"))
    if made.habits:
        lines.append(Told("heading", "Habits"))
        lines += [Told("item", f"{HABIT_TITLES[habit]}: {100 * s.share:.0f} %") for habit, s in made.habits.items()]
    if made.families:
        lines.append(Told("heading", "Families, the weakest first"))
    for family, skill in sorted(made.families.items(), key=lambda each: each[1].share):
        title = trees.families[family].title if family in trees.families else family
        due = f", again from {skill.due.astimezone():%d %b}" if skill.due else ""
        lines.append(Told("item", f"{title}: {100 * skill.share:.0f} % in {skill.count}{due}"))
    if practices:
        lines.append(Told("heading", "The latest"))
    for practice in practices[-_LATEST:]:
        result = f"{practice.result.score:.0f}" if practice.result else "not finished"
        lines.append(Told("item", f"{practice.id}  {practice.scenario.title}: {result}"))
    return lines


def whole_class(view: ClassView) -> list[Told]:
    """The trainer's view."""
    if not view.members:
        return [Told("heading", "Nobody has finished a practice yet.")]
    lines = [Told("heading", "Trainees")]
    for member in view.members:
        habits = [f"{HABIT_TITLES[name].lower()} {100 * s.share:.0f} %" for name, s in member.progress.habits.items()]
        count = len(member.progress.finished)
        said = f"{member.name}: mean {member.mean_score:.0f}, {member.solved} of {count} solved; {', '.join(habits)}"
        lines.append(Told("item", said))
    lines.append(Told("heading", "Common wrong turns"))
    for turn in view.turns[:_MOST_TURNS]:
        better = f" Better: {turn.better}" if turn.better else ""
        who = counted(turn.trainees, "trainee")
        lines.append(Told("item", f"{who}, {counted(turn.times, 'time')}: {turn.did}.{better}"))
    if not view.turns:
        lines.append(Told("item", "None."))
    lines.append(Told("heading", "Scenarios by everybody's first try, the hardest first"))
    for each in view.scenarios:
        graded = f"graded {each.level}" + (f", turned out {each.turned_out}" if each.is_misgraded else "")
        lines.append(
            Told(
                "item",
                f"{each.title}: mean {each.mean_score:.0f}, {100 * each.solved:.0f} % solved, "
                f"{minutes(each.mean_minutes)}, {counted(each.tries, 'try', 'tries')}; {graded}",
            )
        )
    return lines
