"""What the owner of a door should plan, at the end of a walk: the list that is left there."""

from __future__ import annotations

from typing import TYPE_CHECKING

from diagnose.calls.change_words import change_in_words
from diagnose.calls.then_and_now import change_of, reading_of, value_of
from diagnose.calls.trend_words import due_at
from diagnose.calls.words import computed_in_words, title, with_absent
from diagnose.quantities.show import Shown

if TYPE_CHECKING:
    from diagnose.calls.call import Call


NOTHING_TO_PLAN = "Nothing: what was read is as it was, and within its limits."


def owner_list(call: Call, system: Shown = "us") -> list[str]:
    """A line each: what is due, past its limit, other than when the door was right, not right, or put off.

    What stays as it was, and was done and proved, is not on it. Notes are, for they are what somebody meant to say.
    """
    trees, state = call.trees, call.state
    lines = due_at(call, system)
    for name, answer in state.answers.items():
        check, read = trees.checks.get(name), reading_of(trees, answer)
        if check is None or read is None or any(line.startswith(f"{check.text}:") for line in lines):
            continue
        value, _ = value_of(check, read)
        change = change_of(trees, state.then, answer)
        if check.limit is not None and not check.limit[0] <= value <= check.limit[1]:
            passed = check.limit[0] if value < check.limit[0] else check.limit[1]
            said, limit = (computed_in_words(check, each, system=system) for each in (value, passed))
            lines.append(f"{check.text}: {said}, past its limit of {limit}.")
        elif change is not None and change.is_real:
            lines.append(f"{check.text}: {change_in_words(check, change, system)}.")
    for job in state.jobs.values():
        if job.came == "not right":
            lines.append(f"Not right: {title(trees, 'jobs', job.job)}{f', {job.reason}' if job.reason else ''}.")
    done = {item.remedy for item in state.tries}
    lines += [
        f"Put off: {with_absent(call, step, kind)}."
        for kind, step in state.put_off
        if kind == "remedy" and step not in done
    ]
    return lines + [text for _, text in state.notes]
