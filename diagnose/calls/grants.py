"""Who may do what in a shop's PostgreSQL: three roles, for the database's own users to be put into.

Events are only ever added, by whoever may write; not even the office can change or remove one.
"""

from __future__ import annotations

# Worked out from the events whenever they are behind them, by whoever asks for a list or a count.
_LEARNT = ("outcome", "suspicion", "found", "named", "finding", "trial", "part", "tally", "tallied")
_DERIVED = dict.fromkeys(("summary", "door_memory", *_LEARNT), "INSERT, UPDATE, DELETE")
# Tables → what each role may do there, beyond reading.
_TECHNICIAN = {
    **_DERIVED,
    "call": "INSERT, UPDATE (behind, untold)",
    "event": "INSERT",
    "door": "INSERT, UPDATE",
    "door_revision": "INSERT",
    "difference": "INSERT",
    "practice": "INSERT, UPDATE (result)",
    "practice_act": "INSERT",
}
RIGHTS = {
    "technician": _TECHNICIAN,
    # The office settles what two recorded differently.
    "office": {**_TECHNICIAN, "difference": "INSERT, UPDATE (settled_at, settled_by)"},
    # A list of calls brings their summaries up to date, and a count what they tell.
    "reader": {"call": "UPDATE (behind, untold)", **_DERIVED},
}
_READ_ONLY = ("migration", "practice_shape", "lesson_shape", "met", "forgotten")


def grants(schema: str = "public", prefix: str = "diagnose") -> str:
    """The SQL that makes the roles ``PREFIX_technician``, ``PREFIX_office`` and ``PREFIX_reader``, and their rights.

    It can be run again. Whoever owns the tables runs it, once the store was opened by them for the first time.
    """
    lines = ["-- To let somebody in:  CREATE ROLE ana LOGIN;  GRANT diagnose_technician TO ana;"]
    for role, rights in RIGHTS.items():
        name = f"{prefix}_{role}"
        lines += [
            f"DO $$ BEGIN CREATE ROLE {name} NOLOGIN; EXCEPTION WHEN duplicate_object THEN NULL; END $$;",
            f"GRANT USAGE ON SCHEMA {schema} TO {name};",
        ]
        for table in (*_TECHNICIAN, *_READ_ONLY):
            also = f", {rights[table]}" if table in rights else ""
            lines.append(f"GRANT SELECT{also} ON {schema}.{table} TO {name};")
    return "\n".join(lines) + "\n"
