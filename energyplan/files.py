"""Writing files: whole or not at all, and never over one that is there unless told."""

import os
import tempfile
from pathlib import Path

from energyplan.errors import FileError

__all__ = ["write_new"]


def write_new(path: Path, content: bytes, *, force: bool = False) -> None:
    """Write a file in one move, so that a crash leaves the old one or the new one.

    Raises
    ------
    FileError
        If the file exists and ``force`` is not given, or it can't be written.
    """
    if path.exists() and not force:
        raise FileError(f"{path}: already there, and left as it is; choose another name, or say --force")
    try:
        handle, temporary = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(content)
                file.flush()
                os.fsync(file.fileno())
            Path(temporary).chmod(0o644)
            Path(temporary).replace(path)
        except BaseException:
            Path(temporary).unlink(missing_ok=True)
            raise
    except OSError as error:
        raise FileError(f"{path}: can't be written ({error.strerror or error})") from None
