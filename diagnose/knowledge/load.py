"""The trees of a folder: compiled once, and kept for the next time.

``load_trees`` is what the rest of the program calls. What it compiled is kept in the user's cache folder under a name
made from the content of every file and of the code that compiles them, so that a changed comma is a new compilation
and a stale one can never be read. The compiler (``knowledge.compiling``) is imported only where there is something to
compile.
"""

from __future__ import annotations

import gc
import hashlib
import os
import pickle
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import msgspec

from diagnose.knowledge import model
from diagnose.knowledge.files import file_text, write_whole
from diagnose.knowledge.problems import Place, Problem, Problems, TreeError
from diagnose.shipped import shipped_folder

if TYPE_CHECKING:
    from diagnose.knowledge.marked_yaml import Marked

_Made = TypeVar("_Made")

# The folders of this package whose code decides what trees are accepted, and what is made of them.
SHAPING = ("knowledge", "quantities", "formulas")
_PACKAGE = Path(__file__).parent.parent


def load_trees(
    folder: str | Path | None = None, *, cache: bool = True, learned: str | Path | None = None
) -> model.Trees:
    """All entries of the ``*.yaml`` files below ``folder`` (by default the trees that ship).

    ``learned`` is a file of what a shop has learnt of their numbers (``knowledge.learned``): the changes in it that
    still fit are made; no such file is no fault.

    Raises ``TreeError`` with every fault found, each with its file and line and what to do.
    """
    trees = _load(folder, cache)
    if learned is None or not Path(learned).is_file():
        return trees
    from diagnose.knowledge.learned import read_learned, with_learned

    return with_learned(trees, read_learned(Path(learned)))[0]


def learned_file(folder: str | Path | None) -> Path:
    """Where what is learnt of the trees of ``folder`` is kept: beside it, as ``NAME.learned.yaml``.

    ``$DIAGNOSE_LEARNED`` comes before it. For the trees that ship it is in the user's folder for data.
    """
    if named := os.environ.get("DIAGNOSE_LEARNED"):
        return Path(named)
    if folder is not None:
        root = Path(folder).expanduser().resolve()
        return root.with_name(f"{root.name}.learned.yaml")
    from platformdirs import user_data_path

    return user_data_path("diagnose") / "trees.learned.yaml"


def _load(folder: str | Path | None, cache: bool) -> model.Trees:
    root = Path(folder) if folder is not None else shipped_folder("trees")
    files = _read_files(root)
    digest = _digest(files)
    kept = _cache_file(digest) if cache else None
    if kept is not None:
        trees = _from_cache(kept)
        if trees is not None:
            return trees
    problems = Problems()
    trees_or_none = compile_trees(files, digest, problems)
    if problems.errors or trees_or_none is None:
        raise TreeError(problems.errors)
    if kept is not None:
        trees_or_none = _shared(trees_or_none, {})
        _to_cache(kept, pickle.dumps(trees_or_none, protocol=5))
    return trees_or_none


def read_book(folder: str | Path | None = None) -> tuple[model.Trees, dict[str, Marked]]:
    """The trees below ``folder``, and the files they stand in, read anew. Raises ``TreeError`` as ``load_trees``."""
    from diagnose.knowledge.compiling import Compiler, read_documents

    files = _read_files(Path(folder) if folder is not None else shipped_folder("trees"))
    problems = Problems()
    documents = read_documents(files, problems)
    trees = Compiler(problems).compile_documents(documents, _digest(files))
    if problems.errors or trees is None:
        raise TreeError(problems.errors)
    return trees, documents


def review_file(folder: str | Path | None, *parts: str) -> Path:
    """Where what looking over the trees of ``folder`` came to is kept, for the code in these ``parts`` of ours."""
    root = Path(folder) if folder is not None else shipped_folder("trees")
    named = hashlib.sha256(str(root.resolve()).encode()).hexdigest()[:12]
    return cache_folder() / f"review-{_code_digest(parts=(*SHAPING, *parts))[:12]}-{named}.msgpack"


def compile_trees(files: Mapping[str, str], digest: str, problems: Problems) -> model.Trees | None:
    """Entries from the text of each file; faults go to ``problems``, and ``None`` comes back if there were any."""
    from diagnose.knowledge.compiling import Compiler

    return Compiler(problems).compile(files, digest)


def _read_files(root: Path) -> dict[str, str]:
    if not root.is_dir():
        wrong, mend = "There is no folder of trees here.", "Give the path of a folder with *.yaml files."
        raise TreeError([Problem(Place(str(root), 1), wrong, mend, "folder")])
    problems = Problems()
    files: dict[str, str] = {}
    for path in sorted(root.rglob("*.yaml")):
        text = file_text(path, str(path), problems, "Save it as UTF-8.", "yaml")
        if text is not None:
            files[path.relative_to(root).as_posix()] = text
    if not files and not len(problems):
        problems.error(Place(str(root), 1), "This folder holds no trees.", "Add *.yaml files.", "folder")
    if len(problems):
        raise TreeError(problems)
    return files


def _digest(files: Mapping[str, str]) -> str:
    # Python's own, and three times as fast as its own SHA-256.
    digest = hashlib.blake2b(digest_size=32)
    for name, text in files.items():
        for part in (name, text):
            encoded = part.encode()
            digest.update(len(encoded).to_bytes(8, "big"))
            digest.update(encoded)
    return digest.hexdigest()


def cache_folder() -> Path:
    """Where what can be made again is kept."""
    from platformdirs import user_cache_path

    return Path(os.environ.get("DIAGNOSE_CACHE") or user_cache_path("diagnose"))


def kept_of(trees: model.Trees, name: str, kind: type[_Made], make: Callable[[], _Made], *parts: str) -> _Made:
    """What ``make`` makes of trees with the code in ``parts`` of ours, or made of them before; ``kind`` is its type."""
    file = kept_file(trees, name, *parts)
    try:
        return msgspec.msgpack.decode(file.read_bytes(), type=kind)
    except (OSError, msgspec.MsgspecError):
        made = make()
    _to_cache(file, msgspec.msgpack.encode(made))
    return made


def kept_file(trees: model.Trees, name: str, *parts: str) -> Path:
    """Where ``kept_of`` keeps it."""
    return _cache_file(hashlib.sha256(trees.digest.encode()).hexdigest(), name, *parts)


def _cache_file(digest: str, name: str = "trees", *parts: str) -> Path:
    return cache_folder() / f"{name}-{_code_digest(parts=(*SHAPING, *parts))[:12]}-{digest[:40]}"


def _code_digest(package: Path = _PACKAGE, parts: Sequence[str] = SHAPING) -> str:
    """Of all code that has a hand in the compiled form: what it accepts, and what it makes of it.

    Reading it costs a millisecond, and nobody has to remember to raise a number.
    """
    digest = hashlib.blake2b(digest_size=32)
    for folder in parts:
        for file in sorted((package / folder).glob("*.py*")):
            digest.update(file.read_bytes())
    return digest.hexdigest()


def _from_cache(file: Path) -> model.Trees | None:
    # All of it is made at once and all of it stays: to look for garbage meanwhile doubles the time.
    was_on = gc.isenabled()
    gc.disable()
    try:
        with file.open("rb") as opened:
            trees = _Unpickler(opened).load()
    except Exception:  # whatever a damaged file says: the trees are made anew
        return None
    finally:
        if was_on:
            gc.enable()
    return trees if isinstance(trees, model.Trees) else None


class _Unpickler(pickle.Unpickler):
    """Reads structures of this package; whatever else a file wants to call is refused."""

    def find_class(self, module: str, name: str) -> Any:
        # The second is by what msgspec makes structures whose fields go by name.
        if module.startswith("diagnose.knowledge.") or (module, name) == ("msgspec._utils", "rebuild"):
            found = super().find_class(module, name)
            if name == "rebuild" or (isinstance(found, type) and issubclass(found, msgspec.Struct)):
                return found
        raise pickle.UnpicklingError(f"{module}.{name} is no part of trees")


def _shared(value: Any, known: dict[tuple[type, bytes], Any]) -> Any:
    """The same, with one object for all that is alike in it: half the memory, and half of what has to be read."""
    if isinstance(value, dict):
        value = {_shared(key, known): _shared(each, known) for key, each in value.items()}
    elif isinstance(value, tuple):
        value = tuple(_shared(each, known) for each in value)
    elif isinstance(value, msgspec.Struct):
        fields = {name: _shared(getattr(value, name), known) for name in value.__struct_fields__}
        value = msgspec.structs.replace(value, **fields)
    return known.setdefault((type(value), msgspec.msgpack.encode(value)), value)


def _to_cache(file: Path, made: bytes) -> None:
    """Without a writable cache it is made each time."""
    try:
        write_whole(file, made)
        _forget_older(file)
    except OSError:
        return


def _forget_older(newest: Path, keep: int = 8) -> None:
    name = newest.name.partition("-")[0]
    kept = sorted(newest.parent.glob(f"{name}-*"), key=lambda file: file.stat().st_mtime)
    for file in kept[:-keep]:
        file.unlink(missing_ok=True)
