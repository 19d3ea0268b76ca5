"""Files: read within bounds, written whole or not at all, and never over one that is there unless told."""

import contextlib
import os
import platform
import secrets
import stat
import sys
import zlib
from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path

from energyplan.base.errors import FileError

__all__ = [
    "PACKAGE", "STANDARD_INPUT", "check_place", "help_page", "help_topics", "read_text", "write_all", "write_new",
]  # fmt: skip

STANDARD_INPUT = "-"
PACKAGE = Path(__file__).parent.parent  # the folder in which the program's own pages and demo files lie


def help_topics() -> list[str]:
    """Names of the help pages."""
    return sorted(page.stem for page in (PACKAGE / "docs").glob("*.md"))


def help_page(topic: str) -> str:
    """A help page, as Markdown."""
    return (PACKAGE / "docs" / f"{topic}.md").read_text(encoding="utf-8")


def read_text(path: str | Path, most_bytes: int, *, what: str) -> str:
    """Text of a regular file, or of standard input for ``-``, within a size.

    Parameters
    ----------
    path : str or Path
        The file; a link is followed, a pipe or device is refused without being opened for long.
    most_bytes : int
        What is larger is refused.
    what : str
        What is expected, for the message: "a plan; give its path".

    Raises
    ------
    FileError
        If it is missing, no regular file, too large, can't be read, or no text in UTF-8.
    """
    try:
        content = _input_bytes(most_bytes) if str(path) == STANDARD_INPUT else _file_bytes(Path(path), most_bytes, what)
    except (OSError, ValueError) as error:
        if isinstance(error, FileError):
            raise
        raise FileError(
            f"{path}: can't be read ({getattr(error, 'strerror', None) or error}); expected {what}"
        ) from None
    if len(content) > most_bytes:
        raise FileError(f"{path}: more than {most_bytes} bytes are too many; expected {what}")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        words = f"not a text file in UTF-8 ({error.reason} at byte {error.start}); expected {what}"
        raise FileError(f"{path}: {words}") from None


@lru_cache(maxsize=1)
def _input_bytes(most_bytes: int) -> bytes:
    """What stands in standard input, which gives it only once."""
    return sys.stdin.buffer.read(most_bytes + 1)


def _file_bytes(path: Path, most_bytes: int, what: str) -> bytes:
    if not path.is_file():
        raise FileError(f"{path}: no {'regular' if path.exists() else 'such'} file; expected {what}")
    descriptor = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
    with os.fdopen(descriptor, "rb") as file:
        status = os.fstat(descriptor)
        if not stat.S_ISREG(status.st_mode):
            raise FileError(f"{path}: no regular file; expected {what}")
        if status.st_size > most_bytes:
            raise FileError(f"{path}: {status.st_size} bytes are too many (at most {most_bytes}); expected {what}")
        return file.read(most_bytes + 1)


def write_new(path: Path, content: bytes, *, force: bool = False) -> None:
    """Write a file in one move, so that whatever happens leaves the old one or the new one.

    Raises
    ------
    FileError
        If the file exists and ``force`` is not given, is a link or no regular file, or can't be written.
    """
    write_all({path: content}, force=force)


def write_all(contents: Mapping[Path, bytes], *, force: bool = False) -> None:
    """Write several files, all of them or none.

    Each content goes into a new file beside the old one and reaches the disk; then all take their names, and if one
    can't, those before it get their old content back. A process that is killed on the way leaves such a new file
    (``.energyplan-…``), which the next write into its folder clears away.

    Raises
    ------
    FileError
        If a file exists and ``force`` is not given, is a link or no regular file, or can't be written; all files are
        as they were.
    """
    ready: dict[Path, Path] = {}
    path = Path()
    try:
        for path, content in contents.items():
            check_place(path, force=force)
            _clear_left_over(path.parent)
            ready[path] = path.parent / f"{_OURS}{os.getpid()}-{secrets.token_hex(6)}"
            _write_through(ready[path], content)
        path = _take_names(ready, force=force)
    except FileError:
        raise
    except (OSError, ValueError) as error:
        told = getattr(error, "strerror", None) or error
        raise FileError(f"{path}: can't be written ({told})") from None
    finally:
        for temporary in ready.values():
            with contextlib.suppress(OSError, ValueError):
                temporary.unlink(missing_ok=True)
    for path in ready:
        _settle(path.parent)


def _take_names(ready: Mapping[Path, Path], *, force: bool) -> Path:
    """Let new files take their names; on a failure the ones before get their old contents back."""
    before: dict[Path, bytes | None] = {}
    path = Path()
    try:
        for path, temporary in ready.items():
            old = path.read_bytes() if len(ready) > 1 and path.exists() else None
            if force:
                _keep_mode(path, temporary)
                temporary.replace(path)
            else:
                _take_free_name(temporary, path)
            before[path] = old
    except (OSError, ValueError) as error:
        for earlier, old in before.items():
            with contextlib.suppress(OSError):
                earlier.unlink() if old is None else earlier.write_bytes(old)
        if isinstance(error, FileError):
            raise
        told = getattr(error, "strerror", None) or error
        raise FileError(f"{path}: can't be written ({told})") from None
    return path


_OURS = f".energyplan-{zlib.crc32(platform.node().encode()):08x}-"  # of this machine: another one's may be at work


def _clear_left_over(folder: Path) -> None:
    """Take away what a process that is no more has left on its way."""
    with contextlib.suppress(OSError):
        for left in folder.glob(f"{_OURS}*"):
            number = left.name.removeprefix(_OURS).partition("-")[0]
            if number.isdecimal() and not _runs(int(number)):
                left.unlink(missing_ok=True)


def _runs(process: int) -> bool:
    if os.name != "posix":  # elsewhere the question itself would end the process
        return True
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except (OSError, OverflowError):
        return True
    return True


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
