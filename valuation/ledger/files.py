"""Copies of a SQLite ledger: a backup while it is in use, and a ledger restored from a backup."""

from __future__ import annotations

import shutil
import sqlite3
import tempfile
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager, suppress
from itertools import count
from pathlib import Path

from valuation.errors import LedgerError, shortlist
from valuation.files import replacing
from valuation.ledger.check import CheckReport
from valuation.ledger.database import Database, in_words, parse_address
from valuation.ledger.migrate import VERSION_TABLE, steps


def backup(database: Database, target: str | Path) -> Path:
    """Copy the ledger to a new file while others read and write it; see `Ledger.backup`.

    Parameters
    ----------
    database : Database
    target : str or Path
        A file that is not there yet.
    """
    if database.path is None:
        raise LedgerError(
            f"Cannot back up {database.where} from here: it lives on a PostgreSQL server. Use the server's own tool: "
            "pg_dump --format=custom --file=ledger.dump followed by the database's name."
        )
    doing, target = f"Cannot back up to '{target}'", Path(target)
    _check_place(doing, target)
    if target.exists():
        raise LedgerError(f"{doing}: a file of that name exists already. Name a new file.")
    with _named(doing), in_words(doing), replacing(target, new=True) as part:
        _copy(database.path, part)
        with closing(sqlite3.connect(part)) as copy:
            verdict = copy.execute("PRAGMA integrity_check").fetchone()[0]
        if verdict != "ok":
            raise LedgerError(
                f"{doing}: the copy of '{database.path}' is not sound ({verdict}). Keep the damaged file and use an "
                "older backup."
            )
    return target


def restore(
    source: str | Path,
    target: str | Path,
    verify: Callable[[Path], CheckReport],
    *,
    accept_loss: bool = False,
    replace: bool = False,
) -> Path:
    """Make a ledger from a backup; see `Ledger.restore`.

    Parameters
    ----------
    source : str or Path
        The backup.
    target : str or Path
        The ledger to make.
    verify : callable
        Checks the copy before it is put in place.
    accept_loss : bool
        Whether to take a backup in which the check finds problems.
    replace : bool
        Whether a ledger of that name is kept beside it and replaced.
    """
    url = parse_address(target)
    if url.get_backend_name() != "sqlite":
        raise LedgerError(
            "Cannot restore to a PostgreSQL server from here. Use the server's own tool: pg_restore --dbname= with the "
            "name of a new, empty database, then the file that pg_dump made."
        )
    source, target = Path(source), Path(str(url.database))
    if not source.is_file():
        raise LedgerError(f"Cannot restore from '{source}': there is no such file. Name a backup of a ledger.")
    doing = f"Cannot restore to '{target}'"
    if target.exists() and not replace:
        raise LedgerError(
            f"{doing}: a file of that name exists already. Name a new file, or replace it with --replace: the "
            "old one is then kept beside it."
        )
    _check_place(doing, target)
    _check_version(source)
    with _named(doing), _folder_beside(target) as folder:
        copy = folder / target.name
        with in_words(f"Cannot restore from '{source}'"):
            _copy(source, copy)
        report = verify(copy)
        if not (report.sound or accept_loss):
            raise LedgerError(
                f"Cannot restore from '{source}': it is not as it was written. {_listed(report)} Use an older backup; "
                "or restore what is left with --accept-loss. Nothing was replaced."
            )
        with closing(sqlite3.connect(copy)) as alone:
            alone.execute("PRAGMA journal_mode = DELETE")  # one file, so that one renaming puts it there
        _keep_old(target)
        with replacing(target, new=True) as part:
            copy.replace(part)
    return target


def _check_place(doing: str, target: Path) -> None:
    if not target.parent.is_dir():
        raise LedgerError(f"{doing}: the folder '{target.parent}' does not exist. Make it first.")


def _check_version(source: Path) -> None:
    with in_words(f"Cannot restore from '{source}'"), closing(sqlite3.connect(_at(source), uri=True)) as there:
        found = there.execute("SELECT name FROM sqlite_master WHERE name = ?", (VERSION_TABLE,)).fetchone()
        step = there.execute(f"SELECT version_num FROM {VERSION_TABLE}").fetchone() if found else None
    if step is None or step[0] not in steps():
        raise LedgerError(
            f"Cannot restore from '{source}': "
            + ("it is not a ledger. " if step is None else f"its version {step[0]!r} is newer than this program. ")
            + "Name a backup made by this program's version or an older one."
        )


def _copy(source: Path, target: Path) -> None:
    """Copy page by page into one file that opens anywhere, without a log beside it."""
    with closing(sqlite3.connect(_at(source), uri=True)) as old, closing(sqlite3.connect(target)) as new:
        old.backup(new)
        new.execute("PRAGMA journal_mode = DELETE")


def _listed(report: CheckReport) -> str:
    return f"Found: {shortlist([str(problem).rstrip('.') for problem in report.problems], limit=5)}."


def _keep_old(target: Path) -> None:
    """Give the ledger that is replaced, and what lies beside its name, another name."""
    doing = f"Cannot replace '{target}'"
    with suppress(sqlite3.DatabaseError), closing(sqlite3.connect(_at(target, "rw"), uri=True, timeout=1)) as old:
        try:
            old.execute("PRAGMA journal_mode = DELETE")  # asks for the file alone, and brings its log into it
        except sqlite3.OperationalError as error:
            if "locked" in str(error):
                raise LedgerError(f"{doing}: another program has it open. Close that program and try again.") from error
    kept = next(name for n in count(1) if not (name := target.with_name(f"{target.name}.replaced-{n}")).exists())
    for end in ("-wal", "-shm", "-head", ""):
        with suppress(FileNotFoundError):
            target.with_name(target.name + end).rename(kept.with_name(kept.name + end))


@contextmanager
def _folder_beside(target: Path) -> Iterator[Path]:
    folder = Path(tempfile.mkdtemp(dir=target.parent, prefix=f".{target.name[:40]}."))
    try:
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)


@contextmanager
def _named(doing: str) -> Iterator[None]:
    """Turn what the system says of a file into a refusal."""
    try:
        yield
    except FileExistsError as error:
        raise LedgerError(f"{doing}: a file of that name was just made by another program. Name a new one.") from error
    except OSError as error:
        raise LedgerError(f"{doing}: {error.strerror}. Make room or name another place.") from error


def _at(path: Path, mode: str = "ro") -> str:
    return f"{path.absolute().as_uri()}?mode={mode}"
