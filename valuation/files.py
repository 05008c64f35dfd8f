"""Writing files: the old file or the new one is there, whole, whatever happens in between."""

from __future__ import annotations

import contextlib
import errno
import os
import secrets
import stat
import sys
import time
from collections.abc import Iterator
from pathlib import Path

LOCK_SECONDS = 30.0
"""How long a program waits for another that holds a file."""


def write_file(path: str | Path, content: str | bytes, *, new: bool = False) -> None:
    """Write a whole file (a text as UTF-8), or leave what is there as it is; see `replacing`.

    Parameters
    ----------
    path : str or Path
    content : str or bytes
    new : bool
        Whether a file of that name is an error.

    Raises
    ------
    OSError
        ``FileExistsError`` with ``new``; else whatever the system says.
    """
    with replacing(path, new=new) as part:
        part.write_bytes(content.encode() if isinstance(content, str) else content)


@contextlib.contextmanager
def replacing(path: str | Path, *, new: bool = False) -> Iterator[Path]:
    """Name of an empty file to write into; at the end it takes the place of ``path`` in one step.

    It lies in the same folder, is on the disk before it gets the name, keeps the mode of the file that it replaces, and
    is gone when the block fails. A link stays a link: the file that it points at is replaced.

    Parameters
    ----------
    path : str or Path
    new : bool
        Whether a file of that name is an error, also one that another program makes in the meantime.

    Raises
    ------
    OSError
        If the folder or the disk does not allow it; ``FileExistsError`` with ``new``.
    """
    target = Path(os.path.realpath(path))
    there = target.stat() if target.exists() else None
    if there and new:
        raise FileExistsError(errno.EEXIST, "the file is there already", str(path))
    if there and not (stat.S_ISREG(there.st_mode) or stat.S_ISDIR(there.st_mode)):
        yield target  # a terminal, a pipe or another device holds nothing to keep and is written to as it is
        return
    part = target.with_name(f".{target.name[:40]}.{secrets.token_hex(4)}.part")
    try:
        with part.open("xb"):
            pass
        if there:
            part.chmod(stat.S_IMODE(there.st_mode))
        yield part
        with part.open("rb+") as written:
            os.fsync(written.fileno())
        if new:
            _name_once(part, target)
        else:
            part.replace(target)
    finally:
        part.unlink(missing_ok=True)
    _keep_name(target.parent)


@contextlib.contextmanager
def locked(path: str | Path, wait: float = LOCK_SECONDS) -> Iterator[None]:
    """Hold a file against every other program that asks in the same way; the file itself need not be there yet.

    The lock is a file of its own beside it, gone afterwards, since the file itself is replaced when it is written. It
    falls with the program that holds it.

    Parameters
    ----------
    path : str or Path
    wait : float
        Seconds before it is given up.

    Raises
    ------
    TimeoutError
        If another program held it all the while.
    OSError
        If the folder does not allow it.
    """
    target = Path(os.path.realpath(path))
    lock = target.with_name(f".{target.name}.lock")
    end = time.monotonic() + wait
    while (handle := _try_lock(lock)) is None:
        if time.monotonic() > end:
            raise TimeoutError(
                errno.ETIMEDOUT, f"another program has been writing to it for {wait:g} seconds", str(path)
            )
        time.sleep(0.01)
    try:
        yield
    finally:
        if sys.platform != "win32":  # an open file cannot be removed there, so the empty lock stays
            lock.unlink(missing_ok=True)
        os.close(handle)


def _try_lock(lock: Path) -> int | None:
    """The open lock, or None while another holds it."""
    handle = os.open(lock, os.O_RDWR | os.O_CREAT, 0o666)
    try:
        if sys.platform == "win32":
            import msvcrt

            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
            return handle
        import fcntl

        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        # Whoever held it before may have removed it since it was opened here: then this lock is on a nameless file.
        with contextlib.suppress(FileNotFoundError):
            if os.path.samestat(os.fstat(handle), lock.stat()):
                return handle
    except (BlockingIOError, PermissionError):  # the latter is how the other system says that it is held
        pass
    except BaseException:
        os.close(handle)
        raise
    os.close(handle)
    return None


def _name_once(part: Path, target: Path) -> None:
    try:
        target.hardlink_to(part)  # unlike a renaming, never puts itself over a file made in the meantime
    except FileExistsError:
        raise
    except OSError:  # a file system without links
        part.rename(target)


def _keep_name(folder: Path) -> None:
    """Bring the new name to the disk, where the system lets a folder be opened; the content is there already."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
