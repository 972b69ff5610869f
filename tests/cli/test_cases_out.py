"""Commands on a case that is in the ledger: export, debrief, verify, archive, rebuild."""

from __future__ import annotations

import json
import sqlite3
from pathlib import Path

import pytest

from labcheck.cli import main

PAPER = Path(__file__).parents[2] / "checklists" / "rehearsals" / "paper-record.toml"
BOTH = ("--as", "json", "--as", "csv", "--profile", "hospital")


@pytest.fixture
def ledger(tmp_path: Path) -> Path:
    return tmp_path / "ledger"


@pytest.fixture
def key(ledger: Path, capsys: pytest.CaptureFixture[str]) -> str:
    assert main(["transcribe", str(PAPER), "--ledger", str(ledger)]) == 0
    return capsys.readouterr().out.split(":")[0]


def test_export_writes_every_format_asked_for(
    ledger: Path, key: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "out"
    words = ["export", key, *BOTH, "--to", str(out), "--ledger", str(ledger)]
    assert main(words) == 0
    written = capsys.readouterr().out.split()
    assert all(Path(line).is_file() for line in written)
    document = json.loads((out / f"REHEARSAL-{key}.json").read_bytes())
    assert isinstance(document, dict)


def test_a_rehearsal_leaves_only_under_a_name_that_says_so(ledger: Path, key: str, tmp_path: Path) -> None:
    main(["export", key, *BOTH, "--to", str(tmp_path / "out"), "--ledger", str(ledger)])
    assert all(path.name.startswith("REHEARSAL-") for path in (tmp_path / "out").iterdir())


def test_a_case_key_may_be_typed_in_small_letters(ledger: Path, key: str, tmp_path: Path) -> None:
    words = ["export", key.lower(), *BOTH, "--to", str(tmp_path / "out"), "--ledger", str(ledger)]
    assert main(words) == 0


@pytest.mark.parametrize(
    "words", [["--as", "punchcard", "--profile", "hospital"], ["--as", "json", "--profile", "gossip"]]
)
def test_an_unknown_format_or_profile_writes_nothing(
    words: list[str], ledger: Path, key: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["export", key, *words, "--to", str(tmp_path / "out"), "--ledger", str(ledger)]) == 2
    assert "choose one of" in capsys.readouterr().err
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize("strange", ["ZZZZ-ZZ", "../../etc/passwd", "\x1b[2J", "a'; DROP TABLE event;--"])
@pytest.mark.parametrize("command", ["export", "debrief", "archive"])
def test_a_case_that_is_not_there_is_wrong_use(
    command: str, strange: str, ledger: Path, key: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    to = {
        "export": [*BOTH, "--to", str(tmp_path / "out")],
        "archive": ["--to", str(tmp_path / "out")],
    }
    assert main([command, strange, *to.get(command, []), "--ledger", str(ledger)]) == 2
    err = capsys.readouterr().err
    assert err.count("\n") == 1
    assert "\x1b" not in err
    assert not (tmp_path / "out").exists()


def test_debrief_prints_the_sheet_and_says_it_is_no_real_case(
    ledger: Path, key: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["debrief", key, "--ledger", str(ledger)]) == 0
    out = capsys.readouterr().out
    assert "REHEARSAL, NOT A REAL CASE" in out
    assert "Last laceration to valve deployed" in out
    assert max(map(len, out.splitlines())) <= 80


def test_debrief_prints_the_same_bytes_twice(
    ledger: Path, key: str, capsys: pytest.CaptureFixture[str]
) -> None:
    main(["debrief", key, "--ledger", str(ledger)])
    first = capsys.readouterr().out
    main(["debrief", key, "--ledger", str(ledger)])
    assert capsys.readouterr().out == first


def test_verify_prints_the_head_that_can_be_compared_with_paper(
    ledger: Path, key: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["verify", key, "--ledger", str(ledger)]) == 0
    head = capsys.readouterr().out.split("head ")[1].split()[0]
    assert main(["verify", key, "--head", head, "--ledger", str(ledger)]) == 0
    wrong = head[:-1] + ("A" if head[-1] != "A" else "B")
    assert main(["verify", key, "--head", wrong, "--ledger", str(ledger)]) == 1


def test_verify_finds_a_changed_entry(ledger: Path, key: str, capsys: pytest.CaptureFixture[str]) -> None:
    with sqlite3.connect(ledger / "ledger.db") as connection:
        connection.execute("DROP TRIGGER event_no_update")
        connection.execute("UPDATE event SET body = replace(body, '263', '363') WHERE kind = 'reading.taken'")
    assert main(["verify", "--ledger", str(ledger)]) == 1
    err = capsys.readouterr().err
    assert f"case {key}, entry" in err
    assert all(line.startswith("labcheck: ") for line in err.splitlines())


def test_verify_of_a_case_that_is_not_there_finds_a_fault(ledger: Path, key: str) -> None:
    assert main(["verify", "ZZZZ-ZZ", "--ledger", str(ledger)]) == 1


def test_an_archive_proves_itself_and_is_never_overwritten(
    ledger: Path, key: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "one.case"
    assert main(["archive", key, "--to", str(out), "--ledger", str(ledger)]) == 0
    assert main(["verify", "--file", str(out)]) == 0
    before = out.read_bytes()
    assert main(["archive", key, "--to", str(out), "--ledger", str(ledger)]) == 2
    assert "exists already" in capsys.readouterr().err
    assert out.read_bytes() == before


def test_a_ledger_that_lost_its_database_is_rebuilt_from_the_mirror(
    ledger: Path, key: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for path in ledger.glob("ledger.db*"):
        path.unlink()
    checklist = PAPER.parents[1] / "electrosurgical.toml"
    words = ["rebuild", "--to", str(tmp_path / "new"), "--checklist", str(checklist), "--ledger", str(ledger)]
    assert main(words) == 0
    capsys.readouterr()
    assert main(["verify", "--ledger", str(tmp_path / "new")]) == 0
    assert key in capsys.readouterr().out


def test_a_fault_of_ours_is_one_line_too(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    from labcheck.commands import keys

    def broken() -> str:
        raise ZeroDivisionError("one\ntwo")

    monkeypatch.setattr(keys, "card", broken)
    assert main(["keys"]) == 70
    err = capsys.readouterr().err
    assert err.count("\n") == 1
    assert "ZeroDivisionError" in err
