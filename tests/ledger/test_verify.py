"""What verify says of ledgers and archives that were and were not touched."""

from __future__ import annotations

import os
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest

from labcheck.caselog.events import CaseSealed
from labcheck.ledger import verify as verifying
from labcheck.ledger.errors import UnsafePlace
from labcheck.ledger.keys import LETTERS
from labcheck.ledger.schema import SCHEMA
from labcheck.ledger.store import FileLedger, open_ledger
from labcheck.ledger.verify import verify
from tests.faults.tampering import unguarded
from tests.ledger.making import CASE, OTHER, Maker, fill


@pytest.fixture
def closed(folder: Path, maker: Maker) -> Path:
    """The folder of a closed ledger with one sealed and one open case."""
    ledger = open_ledger(folder)
    fill(ledger, maker, 4)
    ledger.append(maker.void(3))
    ledger.append(maker.press(CaseSealed(entries=6, signed_by="N1")))
    ledger.append(maker.void(2))
    fill(ledger, Maker(OTHER))
    ledger.close()
    return folder


def said(folder: Path, case: str | None = None) -> list[str]:
    return [str(fault) for fault in verify(folder, case)]


def test_an_untouched_ledger_has_no_fault_open_or_closed(closed: Path) -> None:
    assert said(closed) == said(closed, CASE) == said(closed / "ledger.db") == []
    ledger = open_ledger(closed)
    assert verify(ledger) == verify(ledger, OTHER) == []
    ledger.close()


def test_looking_leaves_nothing_behind(closed: Path) -> None:
    before = sorted(path.name for path in closed.iterdir())
    verify(closed)
    assert sorted(path.name for path in closed.iterdir()) == before


def test_a_corrected_case_verifies_after_its_seal(closed: Path) -> None:
    ledger = open_ledger(closed)
    sealed = ledger.records(CASE)[6]
    ledger.close()
    assert sealed.kind == "case.sealed"
    assert verify(closed, heads={CASE: sealed.hash.hex()}) == []


def test_where_there_is_nothing_to_verify_it_says_so(tmp_path: Path) -> None:
    with pytest.raises(UnsafePlace, match="no ledger or archive"):
        verify(tmp_path)


@pytest.mark.parametrize(
    ("statement", "fault"),
    [
        (
            "UPDATE event SET seq = 40 WHERE seq = 8 AND case_id = 'K7Q2-M4'",
            "entry 40: chain: follows entry 7",
        ),
        ("UPDATE event SET epoch = 2 WHERE seq = 2", "entry 2: column: epoch is 2"),
        ("UPDATE event SET target_seq = 1 WHERE seq = 8", "entry 8: column: target_seq is 1"),
        ("UPDATE event SET event_id = 'f' || substr(event_id, 2) WHERE seq = 2", "entry 2: column: event_id"),
        ("UPDATE event SET hash = zeroblob(32) WHERE seq = 2", "entry 2: hash: the digest does not belong"),
        ("UPDATE event SET prev = zeroblob(32) WHERE seq = 2", "entry 2: chain: does not name the digest"),
        ("UPDATE event SET body = '{}' WHERE seq = 2", "entry 2: hash"),
        ("UPDATE event SET body = 'x' WHERE seq = 2", "entry 2: canonical: not JSON"),
        ("DELETE FROM event WHERE seq = 1", "entry 2: chain: a case begins with one case.opened"),
        ("UPDATE checklist SET text = x'00'", "ledger: checklist: the text kept under"),
        ("DELETE FROM checklist", "is missing, and a case was run with it"),
        (
            "UPDATE case_line SET rehearsal = 1 WHERE case_id = 'K7Q2-M4'",
            "case K7Q2-M4: list: the list of cases",
        ),
        ("DELETE FROM case_line WHERE case_id = 'K7Q2-M4'", "case K7Q2-M4: list"),
        (
            "UPDATE case_line SET case_id = 'AAAA-AA' WHERE case_id = 'K7Q2-M4'",
            "case AAAA-AA: list: is in the list",
        ),
        ("DELETE FROM event WHERE case_id = 'B3X8-Z9'", "case B3X8-Z9: mirror: has 4 entries of a case"),
    ],
)
def test_each_change_is_named_with_its_place(closed: Path, statement: str, fault: str) -> None:
    with unguarded(closed / "ledger.db") as connection:
        connection.execute(statement)
    assert any(fault in line for line in said(closed)), said(closed)


def test_a_changed_mirror_is_named_and_a_short_one_too(closed: Path) -> None:
    mirror = closed / "mirror" / f"{CASE}.log"
    whole = mirror.read_bytes()
    mirror.write_bytes(whole.replace(b"note 1", b"note 7"))
    assert said(closed) == [
        f"case {CASE}: mirror: entry 3 differs between database and mirror; run: labcheck verify {CASE}"
    ]
    mirror.write_bytes(whole[: whole.index(b"\n") + 1])
    assert said(closed) == [
        f"case {CASE}, entry 2: mirror: lacks entries 2 to 8; opening the case brings it up"
    ]


def test_the_press_being_saved_just_now_may_be_missing_from_the_mirror(closed: Path) -> None:
    mirror = closed / "mirror" / f"{CASE}.log"
    os.truncate(mirror, mirror.read_bytes()[:-1].rindex(b"\n") + 1)
    assert said(closed) == []


def test_a_case_that_is_not_there_is_named(closed: Path) -> None:
    assert said(closed, "ZZZZ-ZZ") == ["case ZZZZ-ZZ: row: there is no such case"]
    assert [str(f) for f in verify(closed, heads={"ZZZZ-ZZ": "x"})] == [
        "case ZZZZ-ZZ: row: there is no such case"
    ]


@pytest.mark.parametrize("spoil", [lambda data: data[:5000], lambda data: b"\x00" * len(data), lambda _: b""])
def test_a_file_that_cannot_be_read_is_a_fault_not_a_crash(
    closed: Path, spoil: Callable[[bytes], bytes]
) -> None:
    path = closed / "ledger.db"
    path.write_bytes(spoil(path.read_bytes()))
    assert said(closed)


def test_one_case_can_be_verified_while_another_is_damaged(closed: Path) -> None:
    with unguarded(closed / "ledger.db") as connection:
        connection.execute("UPDATE event SET epoch = 3 WHERE case_id = 'B3X8-Z9' AND seq = 2")
    assert said(closed, CASE) == []
    assert said(closed, OTHER)


def test_a_live_ledger_can_be_verified_from_outside(file_ledger: FileLedger, maker: Maker) -> None:
    fill(file_ledger, maker)
    assert said(file_ledger.folder) == []


def test_a_large_ledger_proved_by_several_programs_gives_the_same_faults(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(verifying, "LARGE", 0)
    with closing(open_ledger(folder)) as ledger:
        for number in range(12):
            fill(ledger, Maker(f"AA{LETTERS[number]}2-M4", start=number * 100))
    with unguarded(folder / "ledger.db") as connection:
        connection.execute("UPDATE event SET kind = 'mark.set' WHERE seq = 3 AND case_id LIKE 'AAF%'")
        connection.execute("DELETE FROM event WHERE seq = 4 AND case_id LIKE 'AAL%'")
    whole = verify(folder)
    assert {fault.where for fault in whole} == {"column", "mirror"}
    assert sorted(map(str, verify(folder, processes=2))) == sorted(map(str, whole))


def test_a_value_of_another_kind_is_named_in_a_case_and_in_a_whole_ledger(closed: Path) -> None:
    """The bytes are the same, and so is the digest; only the file's own note of what they are has changed."""
    strict = SCHEMA["event"]
    for text, change in ((strict.replace(" STRICT,", ""), "CAST(event_id AS BLOB)"), (strict, None)):
        with unguarded(closed / "ledger.db") as connection:
            connection.execute("PRAGMA writable_schema = ON")
            connection.execute("UPDATE sqlite_schema SET sql = ? WHERE name = 'event'", (text,))
        if change is not None:
            with unguarded(closed / "ledger.db") as connection:
                connection.execute("PRAGMA ignore_check_constraints = ON")
                connection.execute(f"UPDATE event SET event_id = {change} WHERE seq = 3")
    assert said(closed, CASE) == [
        f"case {CASE}, entry 3: column: holds another kind of value than its column"
    ]
    assert any("event.event_id" in fault for fault in said(closed))


def test_a_checklist_no_case_was_run_with_is_proved_with_the_whole_ledger_and_not_with_one_case(closed: Path) -> None:
    with closing(open_ledger(closed)) as ledger:
        ledger.keep_checklist(b"of no case\n")
    with unguarded(closed / "ledger.db") as connection:
        connection.execute("UPDATE checklist SET text = x'00' WHERE text = ?", (b"of no case\n",))
    assert said(closed, CASE) == []
    assert [line for line in said(closed) if line.startswith("ledger: checklist: the text kept under")]
    with unguarded(closed / "ledger.db") as connection:
        connection.execute("UPDATE checklist SET text = x'00'")
    assert [line for line in said(closed, CASE) if line.startswith("ledger: checklist: the text kept under")]
