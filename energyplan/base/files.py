"""Writing files: whole or not at all, and never over one that is there unless told."""

import contextlib
import os
import secrets
from pathlib import Path

from energyplan.base.errors import FileError

__all__ = ["check_place", "write_new"]


def write_new(path: Path, content: bytes, *, force: bool = False) -> None:
    """Write a file in one move, so that whatever happens leaves the old one or the new one.

    The content goes into a new file beside the old one, reaches the disk, and takes the name then. A process that is
    killed on the way leaves that new file (``.energyplan-…``) and the old one as it was.

    Raises
    ------
    FileError
        If the file exists and ``force`` is not given, is a link or no regular file, or can't be written.
    """
    try:
        check_place(path, force=force)
        temporary = path.parent / f".energyplan-{secrets.token_hex(8)}"
        try:
            _write_through(temporary, content)
            if force:
                _keep_mode(path, temporary)
                temporary.replace(path)
            else:
                _take_free_name(temporary, path)
        finally:
            temporary.unlink(missing_ok=True)
        _settle(path.parent)
    except FileError:
        raise
    except (OSError, ValueError) as error:
        told = getattr(error, "strerror", None) or error
        raise FileError(f"{path}: can't be written ({told})") from None


def check_place(path: Path, *, force: bool) -> None:
    """See whether a file may be written there, before the work is done.

    Raises
    ------
    FileError
        If a link, a folder, or without ``force`` a file stands in the way.
    """
    if path.is_symlink():
        raise FileError(f"{path}: is a link, and left as it is; name the file itself")
    if path.exists() and not path.is_file():
        raise FileError(f"{path}: is no regular file; choose another name")
    if path.exists() and not force:
        raise FileError(_taken(path))


def _taken(path: Path) -> str:
    return f"{path}: already there, and left as it is; choose another name, or say --force"


def _write_through(path: Path, content: bytes) -> None:
    """Write a file that is new, and wait until it is on the disk."""
    descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), 0o666)
    with os.fdopen(descriptor, "wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())


def _keep_mode(old: Path, new: Path) -> None:
    """What was nobody else's to read stays so."""
    with contextlib.suppress(FileNotFoundError):
        new.chmod(old.stat().st_mode & 0o777)


def _take_free_name(temporary: Path, path: Path) -> None:
    """Move to a name that is free; if it was taken meanwhile, what took it stays."""
    try:
        os.link(temporary, path)
    except FileExistsError:
        raise FileError(_taken(path)) from None
    except OSError:  # a disk without hard links, such as a memory card
        temporary.replace(path)


def _settle(folder: Path) -> None:
    """Wait until the name is on the disk too, where folders can be opened for that."""
    with contextlib.suppress(OSError):
        descriptor = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)
