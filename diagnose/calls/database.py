"""A database for calls: opened by path or URL, with every commit on the disk, and its faults told in plain sentences.

SQLite for a machine by itself, PostgreSQL where many share. Who may come in, and how the way there is kept private, is
the database's own business (libpq's environment, ``~/.pgpass``, ``sslmode``): no password ever stands in an address.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import sqlalchemy as sql
from sqlalchemy import event as listening
from sqlalchemy.exc import ArgumentError, DBAPIError, IntegrityError, NoSuchModuleError, SQLAlchemyError

from diagnose.calls.faults import ConnectionLost, StoreError

_DRIVERS = {"postgresql": "psycopg"}
_BUSY_SECONDS = 5
# A network that is gone is given up on before anybody believes the program dead; each may be said in the URL instead.
_POSTGRES_USUALLY = {
    "application_name": "diagnose",
    "connect_timeout": "5",
    "tcp_user_timeout": "10000",
    "keepalives_idle": "10",
}


class Taken(Exception):
    """A row with that key is there already, or the row it belongs to is not."""


def open_engine(place: str) -> tuple[sql.Engine, str]:
    """The database at a path or an SQLAlchemy URL, and where it is, in words. Raises ``StoreError``."""
    try:
        url = sql.make_url(place) if "://" in place else _file_url(Path(place))
        if url.password is not None or "password" in url.query:
            raise StoreError(
                "A password does not belong in the address of a store, where others can read it. Leave it out, and "
                "keep it in ~/.pgpass."
            )
        usual: dict[str, Any] = {}
        if url.drivername in _DRIVERS:
            url = url.set(drivername=f"{url.drivername}+{_DRIVERS[url.drivername]}")
            usual = {name: value for name, value in _POSTGRES_USUALLY.items() if name not in url.query}
        engine = sql.create_engine(url, connect_args=usual, pool_pre_ping=bool(usual))
    except (ArgumentError, NoSuchModuleError):
        raise StoreError(
            f"'{place}' is no place for a store. Give a file, or a URL such as postgresql://host/name."
        ) from None
    except ModuleNotFoundError as error:
        raise StoreError(f"A store there needs the Python package '{error.name}'. Install it first.") from None
    except OSError as error:
        raise StoreError(f"{place} cannot be made: {error.strerror}. Give another place for the store.") from None
    if url.get_backend_name() == "sqlite":
        _keep_promises_of_sqlite(engine)
        return engine, url.database or ""
    _keep_promises_of_postgres(engine)
    return engine, url.set(drivername=url.get_backend_name(), query={}).render_as_string()


def table(name: str, *columns: str) -> sql.TableClause:
    """A table as questions name it; how it is made, and what its columns hold, stands in its ``Migration``."""
    return sql.table(name, *map(sql.column, columns))


@contextmanager
def plainly(where: str) -> Iterator[None]:
    """Say what the driver says in a sentence that helps; ``Taken`` is left to the caller."""
    try:
        yield
    except IntegrityError:
        raise Taken from None
    except SQLAlchemyError as error:
        said = " ".join(str(getattr(error, "orig", None) or error).split()).rstrip(".")
        lost = isinstance(error, DBAPIError) and error.connection_invalidated
        raise (ConnectionLost if lost else StoreError)(f"{where}: {said}. {_advice(said)}") from None


def default_location() -> Path:
    """The file calls are kept in where nothing else is said."""
    from platformdirs import user_data_path

    return user_data_path("diagnose") / "calls.sqlite3"


def usual_place(location: str | Path | None) -> str:
    """A place as it was given, else ``$DIAGNOSE_STORE``, else a file in the user's data folder."""
    return str(location or os.environ.get("DIAGNOSE_STORE") or default_location())


def _file_url(path: Path) -> sql.URL:
    path = path.expanduser()
    path.parent.mkdir(parents=True, exist_ok=True)
    return sql.URL.create("sqlite", database=str(path))


def _keep_promises_of_sqlite(engine: sql.Engine) -> None:
    """What SQLite needs said: write-ahead log, every commit on the disk, and transactions that hold for DDL too."""

    @listening.listens_for(engine, "connect")
    def _connected(connection: Any, _: object) -> None:
        connection.isolation_level = None  # BEGIN is said below, and not by the driver
        for pragma in (
            f"busy_timeout = {_BUSY_SECONDS * 1000}",
            "journal_mode = WAL",
            "synchronous = FULL",
            "foreign_keys = ON",
        ):
            connection.execute(f"PRAGMA {pragma}")

    @listening.listens_for(engine, "begin")
    def _begun(connection: sql.Connection) -> None:
        writes = connection.get_execution_options().get("writes", False)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


def _keep_promises_of_postgres(engine: sql.Engine) -> None:
    """A commit is on the server's disk, whatever its settings say."""

    @listening.listens_for(engine, "connect")
    def _connected(connection: Any, _: object) -> None:
        connection.execute("SET synchronous_commit TO on")
        connection.commit()


def _advice(said: str) -> str:
    known = {
        "not a database": "It is no store of calls, or damaged. Keep it aside, and restore a backup or give another.",
        "malformed": "The file is damaged. Keep it aside and restore a backup; new calls can go to another store.",
        "locked": "Another program is writing to it. Close that, or try again in a moment.",
        "readonly": "Nothing can be written there. Give another place for the store.",
        "unable to open": "Look whether the folder is there and may be written to, or give another place.",
        "full": "The disk is full. Free some space; what was recorded before is safe.",
        "permission denied": "This user may not do that there. Whoever runs the database can allow it: "
        "'diagnose store grants' prints how.",
        "password": "Keep the password in ~/.pgpass: host:port:database:user:password, readable by you alone.",
        "does not exist": "Ask whoever runs the database for its name, and for a user of your own.",
        "connect": "Look at the network and the address, or give a file to keep calls in.",
    }
    return next((advice for sign, advice in known.items() if sign in said), "Nothing was changed.")
