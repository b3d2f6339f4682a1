"""What a user sets once: units, who they are, where calls are kept. A TOML file, read whole with all its faults."""

from __future__ import annotations

import os
import re
from collections.abc import Collection, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal, get_args, get_origin, get_type_hints

import msgspec

from diagnose.knowledge.problems import Place, Problem, Problems, did_you_mean

if TYPE_CHECKING:
    from diagnose.calls.document import Logo
    from diagnose.calls.report import Firm
    from diagnose.knowledge.model import Trees

Units = Literal["us", "metric", "both"]
ThemeName = Literal["", "night", "day", "dark", "light"]
PaperSize = Literal["", "letter", "a4"]
# A larger logo would make every record large.
_LARGEST_LOGO = 500_000


class Settings(msgspec.Struct, frozen=True, kw_only=True):
    """Empty text stands for what is usual."""

    units: Units = "us"
    # Colours of the screens.
    theme: ThemeName = ""
    # Who is usually at the door, as the trees name people.
    people: tuple[str, ...] = ("anyone", "technician")
    # Who is using the program: stands beside every answer.
    by: str = ""
    # A file or URL where calls are kept.
    store: str = ""
    # The language callers are asked in, as the trees name it.
    language: str = ""
    # A folder of trees in place of those that ship.
    trees: str = ""
    # After how many days an ended call may be forgotten; 0 keeps all.
    keep_days: Annotated[int, msgspec.Meta(ge=0, le=36_500)] = 0
    # On records and sheets: the firm's name, a picture file, and its own wording, as ``calls.report.Firm`` has it.
    firm: str = ""
    logo: str = ""
    terms: str = ""
    foot: str = ""
    paper: PaperSize = ""
    # Keys of the screens in place of the usual ones, by what they mean.
    keys: dict[str, str] = {}


MEANINGS = {
    "units": "us, metric or both",
    "theme": "colours of the screens: night or day",
    "people": "who is usually at the door, parted by commas",
    "by": "your name, kept with every answer",
    "store": "file or URL where calls are kept",
    "language": "language callers are asked in",
    "trees": "folder of trees in place of those that ship",
    "keep-days": "days that ended calls are kept; 0 for good",
    "firm": "your firm, at the head of records",
    "logo": "its logo: a PNG, JPEG or SVG file",
    "terms": "your words above the signatures; {firm}, {site}, {door}, {call}, {date} are filled in",
    "foot": "your words below each page; the same are filled in",
    "paper": "letter or a4",
    "keys": "other keys of the screens, such as keys.explain=f6",
}
# What a key is chosen by is written behind this.
_KEYS = "keys."


class SettingsError(ValueError):
    """A setting cannot be changed so; ``str`` says why and what to do."""


def settings_file() -> Path:
    """``$DIAGNOSE_SETTINGS``, or ``settings.toml`` in the user's folder for settings."""
    named = os.environ.get("DIAGNOSE_SETTINGS")
    if named:
        return Path(named)
    from platformdirs import user_config_path

    return user_config_path("diagnose") / "settings.toml"


def load_settings(file: Path | None = None) -> tuple[Settings, tuple[Problem, ...]]:
    """The settings, and every fault of their file; a setting that cannot be read keeps its usual value.

    No file is no fault.
    """
    path = file or settings_file()
    problems = Problems()
    try:
        text = path.read_text(encoding="utf-8")
    except FileNotFoundError:
        return Settings(), ()
    except (OSError, UnicodeDecodeError) as error:
        problems.error(Place(str(path), 1), f"This file cannot be read: {error}.", "Save it as UTF-8.", "settings")
        return Settings(), tuple(problems)
    return _read(text, str(path), problems), tuple(problems)


def change_settings(
    changes: Mapping[str, str], file: Path | None = None, known: Mapping[str, Collection[str]] | None = None
) -> Settings:
    """Write settings as typed (``people`` parted by commas) into the file; an empty one goes back to the usual.

    ``known`` are the values that the trees have for a setting, such as its languages. All else in the file, comments
    too, stays as it is. Raises ``SettingsError``, and then nothing was changed.
    """
    path = file or settings_file()
    try:
        text = path.read_text(encoding="utf-8") if path.exists() else ""
    except (OSError, UnicodeDecodeError) as error:
        raise SettingsError(f"{path} cannot be read: {error}.") from None
    was = text
    for key, typed in changes.items():
        name = key.removeprefix(_KEYS)
        if key == "keys":
            raise SettingsError("Say which key, such as keys.explain=f6. 'diagnose settings --keys' lists them.")
        if key == name and key not in MEANINGS:
            raise SettingsError(f"'{key}' is no setting. {did_you_mean(key, MEANINGS)}")
        value: str | int | list[str] = typed.strip()
        if key == "people":
            value = [part.strip() for part in typed.split(",") if part.strip()]
        elif key == "keep-days" and typed.strip().isdecimal():
            value = int(typed)
        for each in value if isinstance(value, list) else [str(value)]:
            if each and known and each not in known.get(key, (each,)):
                raise SettingsError(f"'{key}' cannot be '{each}'. {did_you_mean(each, known[key])}")
        head, text = _around_keys(text) if key != name else ("", text)
        written = name if head else key
        text = head + _with_line(text, written, f"{written} = {_toml(value)}\n" if value else "")
    problems = Problems()
    settings = _read(text, str(path), problems)
    if any(problem.rule == "toml" for problem in problems):
        raise SettingsError(f"{path} is written in a way that cannot be changed from here. Change it in the file.")
    if len(problems):
        # What was typed stands in no line yet; a fault that was there before does.
        before = Problems()
        _read(was, str(path), before)
        there = {(problem.wrong, problem.mend) for problem in before}
        faults = [str(p) if (p.wrong, p.mend) in there else f"{p.wrong} {p.mend}" for p in problems]
        raise SettingsError("\n".join(faults))
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        draft = path.with_suffix(".draft")
        draft.write_text(text, encoding="utf-8")
        draft.replace(path)
    except OSError as error:
        raise SettingsError(f"{path} cannot be written: {error.strerror}.") from None
    return settings


def firm_of(settings: Settings) -> Firm:
    """Who records are from, and on which paper. Raises ``SettingsError`` for a logo that cannot be used."""
    from diagnose.calls.report import Firm

    return Firm(settings.firm, _logo(settings.logo), settings.terms, settings.foot, paper_of(settings))


def paper_of(settings: Settings) -> Literal["letter", "a4"]:
    """As set; else as is usual with the units, or, with both, where the user is (CLDR: Letter in these lands)."""
    if settings.paper:
        return settings.paper
    if settings.units != "both":
        return "letter" if settings.units == "us" else "a4"
    import locale

    land = (locale.getlocale()[0] or "en_US").partition("_")[2]
    return "letter" if land in ("US", "CA", "MX", "CO", "CL", "CR", "GT", "PA", "PH", "PR", "SV", "VE") else "a4"


def _logo(file: str) -> Logo | None:
    if not file:
        return None
    from diagnose.calls.document import Logo

    path = Path(file).expanduser()
    kind = {".png": "png", ".jpg": "jpg", ".jpeg": "jpg", ".svg": "svg"}.get(path.suffix.casefold())
    starts = {"png": b"\x89PNG", "jpg": b"\xff\xd8", "svg": b""}
    if kind is None:
        raise SettingsError(f"The logo {path} is of no kind that can be printed. Set a .png, .jpg or .svg file.")
    try:
        data = path.read_bytes()
    except OSError as error:
        raise SettingsError(f"The logo {path} cannot be read: {error.strerror}. Set another, or none: logo=") from None
    if len(data) > _LARGEST_LOGO:
        raise SettingsError(f"The logo {path} is larger than {_LARGEST_LOGO // 1000} kB. Set a smaller one.")
    if not data.startswith(starts[kind]) or (kind == "svg" and b"<svg" not in data):
        raise SettingsError(f"The logo {path} is no {kind.upper()} picture. Set another, or none: logo=")
    return Logo(data, kind)  # type: ignore[arg-type]


def _read(text: str, name: str, problems: Problems) -> Settings:
    import tomllib

    try:
        written = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        line = re.search(r"at line (\d+)", str(error))
        place = Place(name, int(line[1]) if line else 1)
        wrong = str(error).split(" (at ")[0]
        problems.error(place, f"This is not TOML: {wrong}.", 'Write lines like: units = "metric"', "toml")
        return Settings()
    kinds = _kinds()
    sound: dict[str, Any] = {}
    for key, value in written.items():
        place = Place(name, _line_of(text, key))
        if key not in kinds:
            problems.error(place, f"'{key}' is no setting.", did_you_mean(key, kinds), "settings")
            continue
        if key == "people" and isinstance(value, str):
            value = [value]
        if key == "keys" and isinstance(value, dict):
            sound[key] = _sound_keys(value, text, name, problems)
            continue
        if key == "store" and isinstance(value, str) and _has_password(value):
            mend = "Take it out: keep it in PGPASSFILE or the like, or give the whole URL as DIAGNOSE_STORE."
            problems.error(
                place, "'store' has a password in it, and a settings file is read by others.", mend, "settings"
            )
            continue
        try:
            sound[key.replace("-", "_")] = msgspec.convert(value, kinds[key])
        except msgspec.ValidationError:
            problems.error(place, f"'{key}' cannot be {value!r}.", _wanted(key), "settings")
    return Settings(**sound)


def _sound_keys(written: dict[str, Any], text: str, name: str, problems: Problems) -> dict[str, str]:
    """The keys that can be had; what is wrong with the others is said."""
    from diagnose.tui.keys import keys_wanted

    wanted = {meaning: keys for meaning, keys in written.items() if isinstance(keys, str)}
    _, wrong = keys_wanted(wanted)
    wrong |= {meaning: "A key is written as text in quotes." for meaning in written if meaning not in wanted}
    head, rest = _around_keys(text)
    for meaning, why in wrong.items():
        line = head.count("\n") + _line_of(rest, meaning) if head else _line_of(text, _KEYS + meaning)
        first, _, mend = why.partition(". ")
        problems.error(Place(name, line), f"{first.rstrip('.')}.", mend or 'Write: explain = "f6"', "settings")
    return {meaning: keys for meaning, keys in wanted.items() if meaning not in wrong}


def _around_keys(text: str) -> tuple[str, str]:
    """The text up to the table ``[keys]`` with its head, and what follows; nothing before where there is none."""
    table = re.search(r"^[ \t]*\[[ \t]*keys[ \t]*\][^\n]*\n?", text, re.MULTILINE)
    if table is None:
        return "", text
    head = text[: table.end()]
    return head if head.endswith("\n") else f"{head}\n", text[table.end() :]


def _has_password(url: str) -> bool:
    from urllib.parse import parse_qs, urlsplit

    try:
        parts = urlsplit(url)
        return bool(parts.password) or bool({"password", "sslpassword"} & set(parse_qs(parts.query)))
    except ValueError:
        return False


def known_values(trees: Trees) -> dict[str, Collection[str]]:
    """What settings can be that depend on the trees."""
    return {"language": trees.languages, "people": trees.people}


def shown(settings: Settings, key: str) -> str:
    """The value of a setting, as its key is written, on one line; empty for none."""
    value: str | int | tuple[str, ...] | Mapping[str, str] = getattr(settings, key.replace("-", "_"))
    if isinstance(value, int):
        return str(value or "")
    if isinstance(value, Mapping):
        return ", ".join(f"{meaning}: {keys}" for meaning, keys in value.items())
    return value if isinstance(value, str) else ", ".join(value)


def _kinds() -> dict[str, Any]:
    """The type of each setting, by its key as it is written."""
    return {name.replace("_", "-"): kind for name, kind in get_type_hints(Settings, include_extras=True).items()}


def choices_of(key: str) -> tuple[str, ...]:
    """What a setting can be, where that is one of a few."""
    kind = _kinds()[key]
    return tuple(each for each in get_args(kind) if each) if get_origin(kind) is Literal else ()


def _wanted(key: str) -> str:
    if choices := choices_of(key):
        return f"Write one of: {', '.join(choices)}."
    if key == "keep-days":
        return "Write a number of days, like 730; 0 keeps all."
    if key == "keys":
        return 'Write a table, like: keys.explain = "f6"'
    return 'Write a list, like ["anyone", "technician"].' if key == "people" else "Write text in quotes."


def _line_of(text: str, key: str) -> int:
    found = _line(key).search(text)
    return text.count("\n", 0, found.start()) + 1 if found else 1


def _line(key: str) -> re.Pattern[str]:
    return re.compile(rf"^[ \t]*[\"']?{re.escape(key)}[\"']?[ \t]*=.*\n?", re.MULTILINE)


def _with_line(text: str, key: str, line: str) -> str:
    """The text with one setting's line put in its place, added, or taken out."""
    pattern = _line(key)
    if pattern.search(text):
        return pattern.sub(lambda _: line, text, count=1)
    # Before the first table, should a user have made one.
    table = re.search(r"^[ \t]*\[", text, re.MULTILINE)
    at = table.start() if table else len(text)
    head = text[:at] + ("\n" if text[:at] and not text[:at].endswith("\n") else "")
    return head + line + text[at:]


def _toml(value: str | int | list[str]) -> str:
    """Text, a number or a list of texts as TOML writes them."""
    if isinstance(value, int):
        return str(value)
    if isinstance(value, list):
        return f"[{', '.join(_toml(each) for each in value)}]"
    escaped = value.replace("\\", "\\\\").replace('"', '\\"')
    return '"' + "".join(c if c.isprintable() else f"\\U{ord(c):08x}" for c in escaped) + '"'
