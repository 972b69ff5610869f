"""``labcheck doctor``: findings about this machine, and what each level means for the exit status."""

from __future__ import annotations

from pathlib import Path

import pytest

from labcheck.cli import main
from labcheck.commands import doctor


def test_a_folder_that_does_not_exist_yet_is_no_fault(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    main(["doctor", "--ledger", str(tmp_path / "new" / "ledger")])
    out = capsys.readouterr().out
    assert "does not exist yet" in out
    assert not (tmp_path / "new").exists()


def test_a_file_in_the_folder_s_place_is_a_fault(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    place = tmp_path / "ledger"
    place.write_text("a shopping list")
    assert main(["doctor", "--ledger", str(place)]) == 1
    assert "FAULT" in capsys.readouterr().out


def test_a_network_folder_is_a_fault(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(doctor, "file_system", lambda _: "nfs4")
    assert main(["doctor", "--ledger", str(tmp_path)]) == 1
    assert "nfs4" in capsys.readouterr().out


def test_a_full_disk_is_a_fault(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(doctor, "free_bytes", lambda _: 1024)
    assert main(["doctor", "--ledger", str(tmp_path)]) == 1
    assert "0 MiB free" in capsys.readouterr().out


def test_a_folder_open_to_others_is_worth_a_look(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    tmp_path.chmod(0o755)
    main(["doctor", "--ledger", str(tmp_path)])
    assert "open to other users" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("release", "mended"),
    [
        ((3, 6, 23), True),
        ((3, 40, 1), False),
        ((3, 44, 5), False),
        ((3, 44, 6), True),
        ((3, 45, 0), False),
        ((3, 50, 6), False),
        ((3, 50, 7), True),
        ((3, 51, 2), False),
        ((3, 51, 3), True),
        ((3, 54, 0), True),
        ((4, 0, 0), True),
    ],
)
def test_releases_with_the_reset_race_are_known(release: tuple[int, ...], mended: bool) -> None:
    """In 3.7.0 to 3.51.2, mended in 3.51.3, 3.50.7 and 3.44.6: SQLite release notes, read second-hand."""
    assert doctor.wal_reset_mended(release) is mended
