"""A database for calls: opened by path or URL, with every commit on the disk, and its faults told in plain sentences.

SQLite for a machine by itself, PostgreSQL where many share. Both take the same SQL, with ``:name`` for a value. Who may
come in, and how the way there is kept private, is the database's own business (libpq's environment, ``~/.pgpass``,
``sslmode``): no password ever stands in an address.
"""

from __future__ import annotations

import os
import re
import sqlite3
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from contextlib import closing, contextmanager, suppress
from pathlib import Path
from typing import Any, Literal
from urllib.parse import parse_qs, urlsplit

from diagnose.calls.faults import ConnectionLost, StoreError

Values = Mapping[str, Any]

_BUSY_SECONDS = 5
# A network that is gone is given up on before anybody believes the program dead; each may be said in the URL instead.
_POSTGRES_USUALLY = {
    "application_name": "diagnose",
    "connect_timeout": "5",
    "tcp_user_timeout": "10000",
    "keepalives_idle": "10",
}
_VALUE = re.compile(r"(?<![:\w]):([a-z_]\w*)")


class Taken(Exception):
    """A row with that key is there already, or the row it belongs to is not."""


class _Broken(Exception):
    """The way to the server broke off in the middle."""


class Rows:
    """What a statement gave, row by row as it comes."""

    def __init__(self, cursor: Any) -> None:
        self._cursor = cursor

    def __iter__(self) -> Iterator[tuple[Any, ...]]:
        with closing(self._cursor):
            yield from self._cursor

    @property
    def rowcount(self) -> int:
        return int(self._cursor.rowcount)

    def first(self) -> tuple[Any, ...] | None:
        row: tuple[Any, ...] | None = self._cursor.fetchone()
        return row

    def scalar(self) -> Any:
        """The first value of the first row; ``None`` where there is no row."""
        row = self.first()
        return row[0] if row is not None else None

    def scalars(self) -> Iterator[Any]:
        return (row[0] for row in self)

    def mappings(self) -> list[dict[str, Any]]:
        """The rows by their columns' names."""
        names = [column[0] for column in self._cursor.description]
        return [dict(zip(names, row, strict=True)) for row in self]


class Connection:
    """One connection in a transaction."""

    def __init__(self, kind: str, raw: Any) -> None:
        self.kind = kind
        self._raw = raw

    def execute(self, statement: Any, values: Values | Sequence[Values] = (), *, streams: bool = False) -> Rows:
        """Do a statement: text, or what SQLAlchemy builds. A sequence of ``values`` does it once for each of them.

        A collection among the values is a list in brackets: ``id IN :ids``. ``streams`` leaves rows with the server
        until they are wanted.
        """
        one, many = (values, ()) if isinstance(values, Mapping) else ({}, values)
        if not isinstance(statement, str):
            statement, one = _built(statement, self.kind, one, many)
        text, one = _listed(statement, one)
        if self.kind == "postgresql" and (one or many):
            text = _VALUE.sub(r"%(\1)s", text.replace("%", "%%"))
        cursor = self._raw.cursor("streamed") if streams and self.kind == "postgresql" else self._raw.cursor()
        if many:
            cursor.executemany(text, many)
        else:
            cursor.execute(text, *([one] if one else []))
        return Rows(cursor)

    def insert(self, table: str, *rows: Values) -> None:
        """Put rows into a table, all of the same columns."""
        if rows:
            named = ", ".join(f'"{name}"' for name in rows[0])
            self.execute(f"INSERT INTO {table} ({named}) VALUES ({', '.join(f':{name}' for name in rows[0])})", rows)

    def columns(self, table: str) -> list[str]:
        """The names of a table's columns; none where there is no such table."""
        query = {
            "sqlite": "SELECT name FROM pragma_table_info(:named)",
            "postgresql": "SELECT attname FROM pg_attribute WHERE attrelid = to_regclass(:named) "
            "AND attnum > 0 AND NOT attisdropped ORDER BY attnum",
        }
        return list(self.execute(query[self.kind], {"named": table}).scalars())


class Database:
    """May be used from several threads: each takes a connection, and leaves it to the next."""

    def __init__(
        self, kind: Literal["sqlite", "postgresql"], where: str, driver: Any, connect: Callable[[], Any]
    ) -> None:
        """``driver`` is the module of DB-API (PEP 249) that ``connect`` is of."""
        self.kind, self.where = kind, where
        self._driver, self._connect = driver, connect
        self._idle: list[Any] = []

    @contextmanager
    def connect(self, writes: bool = False) -> Iterator[Connection]:
        """A transaction, of which all stays with ``writes`` and nothing without. Faults are the driver's."""
        raw = self._taken()
        try:
            if self.kind == "sqlite":
                # To mean to write takes the lock at once rather than in the middle.
                raw.execute("BEGIN IMMEDIATE" if writes else "BEGIN")
            yield Connection(self.kind, raw)
            if writes:
                raw.commit()
            else:
                raw.rollback()
        except BaseException as error:
            if getattr(raw, "broken", False):
                # The server is gone, and with it all that waited here.
                self.close()
                raise _Broken(str(error)) from error
            raw.rollback()
            self._idle.append(raw)
            raise
        self._idle.append(raw)

    def tidy(self) -> None:
        """Write a file of SQLite anew, so that what was taken out of it is not in its free pages any more."""
        if self.kind == "sqlite":
            raw = self._taken()
            for statement in ("VACUUM", "PRAGMA wal_checkpoint(TRUNCATE)"):
                raw.execute(statement)
            self._idle.append(raw)

    @contextmanager
    def plainly(self) -> Iterator[None]:
        """Say what the driver says in a sentence that helps; ``Taken`` is left to the caller."""
        try:
            yield
        except self._driver.IntegrityError:
            raise Taken from None
        except (self._driver.Error, _Broken) as error:
            said = " ".join(str(error).split()).rstrip(".")
            kind = ConnectionLost if isinstance(error, _Broken) else StoreError
            raise kind(f"{self.where}: {said}. {_advice(said)}") from None

    def close(self) -> None:
        with suppress(IndexError):
            while True:
                self._idle.pop().close()

    def _taken(self) -> Any:
        """A connection that nobody uses, and that is still one."""
        while True:
            try:
                raw = self._idle.pop()
            except IndexError:
                return self._connect()
            if self.kind == "sqlite":
                return raw
            with suppress(self._driver.Error):
                raw.execute("SELECT 1")
                raw.rollback()
                return raw
            raw.close()


def open_database(place: str) -> Database:
    """The database at a path or a URL. Raises ``StoreError``."""
    scheme = place.partition("://")[0].partition("+")[0] if "://" in place else "file"
    try:
        if scheme in ("file", "sqlite"):
            return _open_file(Path(place if scheme == "file" else place.partition(":///")[2]).expanduser())
        if scheme in ("postgresql", "postgres"):
            return _open_url(f"postgresql://{place.partition('://')[2]}")
    except ModuleNotFoundError as error:
        raise StoreError(f"A store there needs the Python package '{error.name}'. Install it first.") from None
    except OSError as error:
        raise StoreError(f"{place} cannot be made: {error.strerror}. Give another place for the store.") from None
    except ValueError:
        pass
    raise StoreError(f"'{place}' is no place for a store. Give a file, or a URL such as postgresql://host/name.")


def like(part: str, begin: str = "%", end: str = "%") -> str:
    """What ``LIKE … ESCAPE '/'`` finds ``part`` by, letters of its own alone."""
    return begin + re.sub(r"([/%_])", r"/\1", part) + end


def default_location() -> Path:
    """The file calls are kept in where nothing else is said."""
    from platformdirs import user_data_path

    return user_data_path("diagnose") / "calls.sqlite3"


def usual_place(location: str | Path | None) -> str:
    """A place as it was given, else ``$DIAGNOSE_STORE``, else a file in the user's data folder."""
    return str(location or os.environ.get("DIAGNOSE_STORE") or default_location())


def _open_file(path: Path) -> Database:
    path.parent.mkdir(parents=True, exist_ok=True)

    def connect() -> sqlite3.Connection:
        """Write-ahead log, every commit on the disk, and transactions that hold for DDL too."""
        # BEGIN is said by ``Database.connect``, and not by the driver.
        raw = sqlite3.connect(path, isolation_level=None, check_same_thread=False, timeout=_BUSY_SECONDS)
        try:
            for pragma in ("journal_mode = WAL", "synchronous = FULL", "foreign_keys = ON"):
                raw.execute(f"PRAGMA {pragma}")
        except sqlite3.Error:
            raw.close()
            raise
        return raw

    return Database("sqlite", str(path), sqlite3, connect)


def _open_url(place: str) -> Database:
    parts = urlsplit(place)
    said = parse_qs(parts.query)
    if parts.password is not None or "password" in said:
        raise StoreError(
            "A password does not belong in the address of a store, where others can read it. Leave it out, and "
            "keep it in ~/.pgpass."
        )
    import psycopg

    usual = {name: value for name, value in _POSTGRES_USUALLY.items() if name not in said}

    def connect() -> psycopg.Connection[Any]:
        """A commit is on the server's disk, whatever its settings say."""
        raw = psycopg.connect(place, **usual)  # type: ignore[arg-type]
        raw.execute("SET synchronous_commit TO on")
        raw.commit()
        return raw

    return Database("postgresql", f"postgresql://{parts.netloc}{parts.path}", psycopg, connect)


def _listed(text: str, values: Values) -> tuple[str, Values]:
    """A statement and its values, each collection among them written out as a list."""
    lists = {
        name: value
        for name, value in values.items()
        if isinstance(value, Collection) and not isinstance(value, (str, bytes))
    }
    if not lists:
        return text, values
    each = {f"{name}_{n}": item for name, value in lists.items() for n, item in enumerate(value)}
    named = {name: ", ".join(f":{name}_{n}" for n in range(len(value))) or "NULL" for name, value in lists.items()}
    text = _VALUE.sub(lambda found: f"({named[found[1]]})" if found[1] in named else found[0], text)
    return text, {name: value for name, value in values.items() if name not in lists} | each


def _built(statement: Any, kind: str, values: Values, many: Sequence[Values]) -> tuple[str, Values]:
    """The text of what SQLAlchemy built, and the values that stand in it."""
    from sqlalchemy.dialects import postgresql, sqlite

    dialect = {"sqlite": sqlite, "postgresql": postgresql}[kind].dialect(paramstyle="named")
    names = list(many[0] if many else values) or None
    made = statement.compile(dialect=dialect, column_keys=names, compile_kwargs={"render_postcompile": True})
    return str(made), {} if many else made.construct_params(values)


def _advice(said: str) -> str:
    known = {
        "not a database": "It is no store of calls, or damaged. Keep it aside, and restore a backup or give another.",
        "malformed": "The file is damaged. Keep it aside and restore a backup; new calls can go to another store.",
        "locked": "Another program is writing to it. Close that, or try again in a moment.",
        "readonly": "Nothing can be written there. Give another place for the store.",
        "unable to open": "Look whether the folder is there and may be written to, or give another place.",
        "full": "The disk is full. Free some space; what was recorded before is safe.",
        "permission denied": "This user may not do that there. Whoever runs the database can allow it: "
        "'diagnose store grants' prints how, and is run again after an update that adds tables.",
        "password": "Keep the password in ~/.pgpass: host:port:database:user:password, readable by you alone.",
        "does not exist": "Ask whoever runs the database for its name, and for a user of your own.",
        "connect": "Look at the network and the address, or give a file to keep calls in.",
    }
    return next((advice for sign, advice in known.items() if sign in said), "Nothing was changed.")
