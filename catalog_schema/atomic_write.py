"""Writing a file so that nothing is lost: whole or not at all, one writer at a time, the previous version kept."""

from __future__ import annotations

import contextlib
import errno
import os
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

LOCK_WAIT_S = 10.0
"""Longest wait for another writer of the same file."""
_LOCK_STEP_S = 0.02
_NO_LOCKS_HERE = frozenset([errno.ENOLCK, errno.ENOSYS, errno.ENOTSUP, errno.EOPNOTSUPP, errno.EINVAL])
"""What file systems answer that know no locks."""

if sys.platform == "win32":
    import msvcrt

    def _try_lock(handle: int) -> bool:
        try:
            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        return True
else:
    import fcntl

    def _try_lock(handle: int) -> bool:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        return True


class BusyError(OSError):
    """Another writer holds the same file for longer than we wait."""


def _open_lock(path: Path) -> int:
    flags = getattr(os, "O_CLOEXEC", 0)
    try:
        return os.open(path, os.O_RDWR | os.O_CREAT | flags, 0o666)
    except PermissionError:
        if not path.exists():
            raise
        # Another user's killed session left its lock file: reading is enough to lock it on most systems.
        return os.open(path, os.O_RDONLY | flags)


def _is_still(handle: int, path: Path) -> bool:
    """Tell whether an open lock file is the one that stands at the path: its last holder may have removed it."""
    try:
        return os.path.samestat(os.fstat(handle), path.stat())
    except FileNotFoundError:
        return False


@contextlib.contextmanager
def locked_beside(target: Path) -> Iterator[bool]:
    """Hold the lock file `.<name>.lock` beside a file; yields False where the file system knows no locks.

    Parameters
    ----------
    target : Path

    Raises
    ------
    BusyError
        When another writer holds it for longer than LOCK_WAIT_S.
    OSError
        When the folder cannot be written.

    Notes
    -----
    The lock is the operating system's own (flock, on Windows msvcrt.locking), so it ends with the process that held
    it, even when that was killed; a lock file left behind stops nobody. It binds writers of this program only: a text
    editor that saves between our check and our rename is not held off. On network shares it is as good as the share's
    own locks.
    """
    path = target.with_name(f".{target.name}.lock")
    end = time.monotonic() + LOCK_WAIT_S
    while True:
        handle = _open_lock(path)
        try:
            held = _try_lock(handle)
        except OSError as problem:
            if problem.errno not in _NO_LOCKS_HERE:
                os.close(handle)
                raise
            try:
                yield False
            finally:
                _release(handle, path)
            return
        if held and _is_still(handle, path):
            break
        os.close(handle)
        if time.monotonic() > end:
            raise BusyError(errno.EBUSY, "another session is saving it just now; try again in a moment")
        if not held:
            time.sleep(_LOCK_STEP_S)
    try:
        yield True
    finally:
        _release(handle, path)


def _release(handle: int, path: Path) -> None:
    if sys.platform == "win32":
        # An open file cannot be removed there, so the next holder's lock file is safe from this.
        os.close(handle)
        with contextlib.suppress(OSError):
            path.unlink()
    else:
        with contextlib.suppress(OSError):
            path.unlink()
        os.close(handle)


def write_atomically(
    target: Path, content: bytes, *, keep_previous: bool, check: Callable[[Path], None] | None = None
) -> None:
    """Write bytes beside the target, force them to disk, then rename over it.

    Parameters
    ----------
    target : Path
        A symbolic link is followed: the file it names is replaced, not the link.
    content : bytes
    keep_previous : bool
        Keep the replaced file as `<name>.previous`.
    check : callable, optional
        Called with the resolved target while no other writer of this program can change it; may raise to stop.

    Raises
    ------
    OSError
        When the disk is full, the folder or file is read-only, or another writer does not end; the target is as before.

    Notes
    -----
    The previous version is a hard link (or copy) made before the rename, so that no moment exists at which the target
    is missing: a process killed at any moment leaves the old or the new file. What it leaves beside (`.part`) is
    removed by the next write of the same target.
    """
    target = Path(os.path.realpath(target))
    with locked_beside(target) as alone:
        if check is not None:
            check(target)
        if alone:
            _remove_leftovers(target)
        if target.exists() and not os.access(target, os.W_OK):
            raise PermissionError(errno.EACCES, "the file is read-only")
        handle, name = tempfile.mkstemp(prefix=f".{target.name}.", suffix=".part", dir=target.parent)
        part = Path(name)
        try:
            with os.fdopen(handle, "wb") as stream:
                stream.write(content)
                stream.flush()
                os.fsync(stream.fileno())
            if target.exists():
                part.chmod(target.stat().st_mode & 0o777)
                if keep_previous:
                    _keep_previous(target)
            part.replace(target)
            _sync_folder(target.parent)
        finally:
            with contextlib.suppress(OSError):
                part.unlink(missing_ok=True)


def _remove_leftovers(target: Path) -> None:
    """Remove what killed writers of this target left; only called while no other one can be at work."""
    start, length = f".{target.name}.", len(f".{target.name}.") + 8 + len(".part")
    for entry in os.scandir(target.parent):
        # mkstemp puts eight characters between; a longer name belongs to another file.
        if entry.name.startswith(start) and entry.name.endswith(".part") and len(entry.name) == length:
            with contextlib.suppress(OSError):
                os.unlink(entry.path)


def _keep_previous(target: Path) -> None:
    previous = target.with_name(f"{target.name}.previous")
    fresh = target.with_name(f".{target.name}.previous.part")
    fresh.unlink(missing_ok=True)
    try:
        try:
            os.link(target, fresh)
        except OSError:
            with fresh.open("wb") as stream:
                stream.write(target.read_bytes())
                stream.flush()
                os.fsync(stream.fileno())
            fresh.chmod(target.stat().st_mode & 0o777)
        fresh.replace(previous)
    finally:
        # Renaming one hard link over another of the same file does nothing and leaves both names.
        with contextlib.suppress(OSError):
            fresh.unlink(missing_ok=True)


def _sync_folder(folder: Path) -> None:
    """Force the rename itself to disk where the system lets a folder be opened."""
    if sys.platform == "win32":
        return
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
