"""Writing files that leave: whole or not at all."""

from __future__ import annotations

import errno
import os
import stat
from collections.abc import Callable
from pathlib import Path

import pytest

from labcheck.registry.errors import ExportError
from labcheck.registry.writing import Staged, safe_name, write_file


def put_both(folder: Path, fault: Exception | None = None) -> None:
    with Staged(folder) as staged:
        staged.put("a.csv", b"new a")
        staged.put("b.csv", b"new b")
        if fault is not None:
            raise fault


def mode(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


@pytest.mark.parametrize(
    "stem",
    ["../x", "/etc/passwd", "..", ".", "", "a\x00b", "a\nb", "x" * 300, "a b", "a/b", "ä", "a.b", "-" * 65],
)
def test_a_name_that_could_lead_elsewhere_is_refused_in_one_line(stem: str) -> None:
    with pytest.raises(ExportError) as caught:
        safe_name(stem, ".json")
    assert "\n" not in str(caught.value)


def test_a_rehearsal_says_so_in_its_file_name() -> None:
    assert safe_name("K7Q2-M4", ".json", rehearsal=True) == "REHEARSAL-K7Q2-M4.json"
    assert safe_name("K7Q2-M4", ".json") == "K7Q2-M4.json"


def test_files_and_new_folders_are_for_the_owner_only_whatever_the_umask(tmp_path: Path) -> None:
    before = os.umask(0)
    try:
        path = write_file(tmp_path / "new", "a.json", b"{}")
    finally:
        os.umask(before)
    assert mode(path) == 0o600
    assert mode(path.parent) == 0o700


def test_an_older_export_is_replaced_and_nothing_else_is_left(tmp_path: Path) -> None:
    write_file(tmp_path, "a.json", b"old")
    write_file(tmp_path, "a.json", b"new")
    assert [p.name for p in tmp_path.iterdir()] == ["a.json"]
    assert (tmp_path / "a.json").read_bytes() == b"new"


def test_a_link_in_place_of_the_file_is_replaced_not_followed(tmp_path: Path) -> None:
    precious = tmp_path / "precious"
    precious.write_bytes(b"precious")
    folder = tmp_path / "out"
    folder.mkdir()
    (folder / "a.json").symlink_to(precious)
    write_file(folder, "a.json", b"export")
    assert precious.read_bytes() == b"precious"
    assert not (folder / "a.json").is_symlink()
    assert (folder / "a.json").read_bytes() == b"export"


def test_a_link_in_place_of_the_folder_is_refused(tmp_path: Path) -> None:
    (tmp_path / "elsewhere").mkdir()
    (tmp_path / "out").symlink_to(tmp_path / "elsewhere")
    with pytest.raises(ExportError, match="link"):
        write_file(tmp_path / "out", "a.json", b"export")
    assert list((tmp_path / "elsewhere").iterdir()) == []


def test_a_folder_in_place_of_the_file_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "a.json").mkdir()
    (tmp_path / "a.json" / "inside").write_bytes(b"x")
    with pytest.raises(ExportError) as caught:
        write_file(tmp_path, "a.json", b"export")
    assert "\n" not in str(caught.value)
    assert [p.name for p in tmp_path.iterdir()] == ["a.json"]
    assert (tmp_path / "a.json" / "inside").read_bytes() == b"x"


def test_a_failure_in_the_second_file_leaves_the_first_as_it_was(tmp_path: Path) -> None:
    write_file(tmp_path, "a.csv", b"old a")
    write_file(tmp_path, "b.csv", b"old b")
    with pytest.raises(RuntimeError):
        put_both(tmp_path, RuntimeError("the second table could not be made"))
    assert sorted(p.name for p in tmp_path.iterdir()) == ["a.csv", "b.csv"]
    assert (tmp_path / "a.csv").read_bytes() == b"old a"
    assert (tmp_path / "b.csv").read_bytes() == b"old b"


def _failing(real: Callable[..., None], nth: int, fault: int) -> Callable[..., None]:
    calls = iter(range(1, 1000))

    def fail(*arguments: object, **words: object) -> None:
        if next(calls) == nth:
            raise OSError(fault, os.strerror(fault))
        real(*arguments, **words)

    return fail


@pytest.mark.parametrize("nth", [1, 2])
@pytest.mark.parametrize("fault", [errno.ENOSPC, errno.EIO])
def test_a_disk_that_fails_while_flushing_leaves_the_old_export(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, nth: int, fault: int
) -> None:
    write_file(tmp_path, "a.csv", b"old a")
    write_file(tmp_path, "b.csv", b"old b")
    monkeypatch.setattr(os, "fsync", _failing(os.fsync, nth, fault))
    with pytest.raises(ExportError) as caught:
        put_both(tmp_path)
    assert "\n" not in str(caught.value)
    assert sorted(p.name for p in tmp_path.iterdir()) == ["a.csv", "b.csv"]
    assert (tmp_path / "a.csv").read_bytes() == b"old a"
    assert (tmp_path / "b.csv").read_bytes() == b"old b"


def test_a_full_device_is_told_in_one_line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    write_file(tmp_path, "a.json", b"old")
    full = os.open("/dev/full", os.O_WRONLY)
    real = os.open

    def onto_the_full_device(path: str, flags: int, *rest: object, **words: object) -> int:
        if str(path).endswith(".part"):
            real(path, flags, *rest, **words)  # type: ignore[arg-type]
            return full
        return real(path, flags, *rest, **words)  # type: ignore[arg-type]

    monkeypatch.setattr(os, "open", onto_the_full_device)
    monkeypatch.setattr(os, "fchmod", lambda *_: None)
    with pytest.raises(ExportError, match="disk is full"):
        write_file(tmp_path, "a.json", b"x" * 100_000)
    monkeypatch.undo()
    assert [p.name for p in tmp_path.iterdir()] == ["a.json"]
    assert (tmp_path / "a.json").read_bytes() == b"old"
