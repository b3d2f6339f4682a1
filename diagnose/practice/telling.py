"""Practice said in plain lines: the first screen, progress and class, the same on every face."""

from __future__ import annotations

from diagnose.calls.words import Told, facts_in_words
from diagnose.knowledge.model import Trees, applies
from diagnose.knowledge.words import counted, minutes
from diagnose.practice.debrief import HABIT_TITLES
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
