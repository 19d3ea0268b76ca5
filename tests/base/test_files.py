"""Writing files: whole or not at all, nothing over another, nothing through a link."""

import os
import signal
import stat
import subprocess
import sys
import time
from pathlib import Path

import pytest

from energyplan.base.errors import FileError
from energyplan.base.files import write_all, write_new


def test_a_new_file_has_the_content_and_nothing_stays_beside_it(tmp_path: Path) -> None:
    """One file, its bytes, and no trace of the way it took."""
    write_new(tmp_path / "plan.toml", b"title = 'x'\n")
    assert [entry.name for entry in tmp_path.iterdir()] == ["plan.toml"]
    assert (tmp_path / "plan.toml").read_bytes() == b"title = 'x'\n"


def test_a_file_that_is_there_stays_unless_told(tmp_path: Path) -> None:
    """Refused with the way out; with ``force`` it is replaced."""
    file = tmp_path / "plan.toml"
    file.write_text("old")
    with pytest.raises(FileError, match="already there, and left as it is"):
        write_new(file, b"new")
    assert file.read_text() == "old"
    write_new(file, b"new", force=True)
    assert file.read_text() == "new"
    assert list(tmp_path.iterdir()) == [file]


def test_a_file_that_appears_meanwhile_stays(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Another program that takes the name between look and move keeps its file."""
    file = tmp_path / "plan.toml"
    link = os.link

    def late(source: Path, target: Path) -> None:
        target.write_text("of another program")
        link(source, target)

    monkeypatch.setattr(os, "link", late)
    with pytest.raises(FileError, match="already there"):
        write_new(file, b"new")
    assert file.read_text() == "of another program"
    assert list(tmp_path.iterdir()) == [file]


def test_a_disk_without_hard_links_will_do(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where names can't be shared, the file is moved."""

    def unknown(*_: object) -> None:
        raise OSError(1, "Operation not permitted")

    monkeypatch.setattr(os, "link", unknown)
    write_new(tmp_path / "plan.toml", b"new")
    assert [entry.name for entry in tmp_path.iterdir()] == ["plan.toml"]


@pytest.mark.parametrize("force", [False, True])
def test_links_are_not_followed(tmp_path: Path, force: bool) -> None:  # noqa: FBT001
    """Neither the link nor what it points at changes; a link to nothing makes nothing."""
    target, link, loose = tmp_path / "target", tmp_path / "link.toml", tmp_path / "loose.toml"
    target.write_text("precious")
    link.symlink_to(target)
    loose.symlink_to(tmp_path / "nothing")
    for path in (link, loose):
        with pytest.raises(FileError, match="is a link"):
            write_new(path, b"new", force=force)
    assert target.read_text() == "precious"
    assert link.is_symlink()
    assert not (tmp_path / "nothing").exists()


def test_what_is_no_file_is_refused(tmp_path: Path) -> None:
    """A folder, a pipe, a folder that isn't there, a name that no disk takes."""
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "folder").mkdir()
    for name in ("pipe", "folder"):
        with pytest.raises(FileError, match="no regular file"):
            write_new(tmp_path / name, b"new", force=True)
    for name in ("none/plan.toml", "x" * 300, "nul\0"):
        with pytest.raises(FileError, match="can't be written"):
            write_new(tmp_path / name, b"new", force=True)
    assert {entry.name for entry in tmp_path.iterdir()} == {"pipe", "folder"}


def test_the_longest_name_of_a_disk_will_do(tmp_path: Path) -> None:
    """The temporary name is no longer than the name wanted."""
    write_new(tmp_path / ("x" * 255), b"new")


def test_permissions_are_those_of_the_user_and_stay(tmp_path: Path) -> None:
    """A new file obeys the mask; what was private stays private when it is replaced."""
    before = os.umask(0o027)
    try:
        write_new(tmp_path / "new", b"x")
    finally:
        os.umask(before)
    assert stat.S_IMODE((tmp_path / "new").stat().st_mode) == 0o640
    (tmp_path / "new").chmod(0o600)
    write_new(tmp_path / "new", b"y", force=True)
    assert stat.S_IMODE((tmp_path / "new").stat().st_mode) == 0o600


# A program that replaces a file with 4 MB again and again, until it is killed.
REWRITING = """
import sys
from pathlib import Path
from energyplan.base.files import write_all, write_new
letters = (b"a", b"b")
print("begun", flush=True)
for number in range(100000):
    write_new(Path(sys.argv[1]), letters[number % 2] * 4_000_000, force=True)
"""


@pytest.mark.parametrize("after_s", [0.0, 0.004, 0.011, 0.023, 0.05])
def test_killed_in_the_middle_of_a_save_the_file_is_whole(tmp_path: Path, after_s: float) -> None:
    """Whenever the process is killed (SIGKILL), the file is an old or a new one, never a part of one."""
    file = tmp_path / "plan.toml"
    file.write_bytes(b"o" * 4_000_000)
    command = [sys.executable, "-c", REWRITING, str(file)]
    with subprocess.Popen(command, stdout=subprocess.PIPE) as process:  # noqa: S603
        assert process.stdout is not None
        assert process.stdout.readline() == b"begun\n"
        time.sleep(after_s)
        process.send_signal(signal.SIGKILL)
    content = file.read_bytes()
    assert content[:1] in (b"o", b"a", b"b")
    assert content == content[:1] * 4_000_000
    others = [entry.name for entry in tmp_path.iterdir() if entry != file]
    assert len(others) <= 1
    assert all(name.startswith(".energyplan-") for name in others)
    process.wait()
    write_new(file, b"new", force=True)
    assert [entry.name for entry in tmp_path.iterdir()] == ["plan.toml"]


def test_what_another_process_is_writing_stays(tmp_path: Path) -> None:
    """Only what processes left that are no more is cleared away; nothing of other machines, nothing of other names."""
    own = next(iter(_names_while_writing(tmp_path)))
    (tmp_path / own).write_bytes(b"on its way")
    elsewhere, other = ".energyplan-00000000-1-abc", ".energyplan-notes"
    for name in (elsewhere, other):
        (tmp_path / name).write_bytes(b"")
    write_new(tmp_path / "plan.toml", b"new")
    assert {entry.name for entry in tmp_path.iterdir()} == {"plan.toml", own, elsewhere, other}


def _names_while_writing(folder: Path) -> list[str]:
    """What lies in a folder while this process writes into it."""
    seen: list[str] = []
    link = os.link

    def looking(source: Path, target: Path) -> None:
        seen.extend(entry.name for entry in folder.iterdir())
        link(source, target)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(os, "link", looking)
        write_new(folder / "first", b"x")
    (folder / "first").unlink()
    return seen


def test_several_files_are_written_all_or_none(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A new one that can't take its name takes the one before it away again; old ones get their content back."""
    old, new = tmp_path / "old", tmp_path / "new"
    old.write_text("precious")
    replace, done = Path.replace, []

    def second_fails(self: Path, target: Path) -> Path:
        done.append(target)
        if len(done) == 2:
            raise OSError(28, "No space left on device")
        return replace(self, target)

    monkeypatch.setattr(Path, "replace", second_fails)
    with pytest.raises(FileError, match="No space left"):
        write_all({old: b"1", new: b"2"}, force=True)
    assert old.read_text() == "precious"
    assert [entry.name for entry in tmp_path.iterdir()] == ["old"]
    done.clear()
    with pytest.raises(FileError, match="No space left"):
        write_all({new: b"2", old: b"1"}, force=True)
    assert [entry.name for entry in tmp_path.iterdir()] == ["old"]
