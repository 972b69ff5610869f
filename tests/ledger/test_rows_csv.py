"""Every entry as it is stored, in one CSV that another program reads back byte for byte."""

from __future__ import annotations

import csv
import io
from contextlib import closing
from pathlib import Path

import pytest

from labcheck.caselog.events import NoteWritten
from labcheck.ledger import rows_csv
from labcheck.ledger.chain import digest
from labcheck.ledger.errors import UnsafePlace
from labcheck.ledger.keys import LETTERS
from labcheck.ledger.rows_csv import write_rows
from labcheck.ledger.store import open_ledger
from tests.faults.tampering import unguarded
from tests.ledger.making import CHECKLIST, OTHER, Maker, fill

AWKWARD = 'a "quote", a comma,\na line; "wall_us":7}, "mode":"late" and =1+1'


@pytest.fixture
def kept(folder: Path, maker: Maker) -> Path:
    """A ledger with a real case, of which one note tries to look like columns, and a rehearsal."""
    with closing(open_ledger(folder)) as ledger:
        fill(ledger, maker)
        ledger.append(maker.press(NoteWritten(text=AWKWARD)))
        ledger.append(maker.void(3))
        acted = Maker(OTHER, start=50)
        ledger.append(acted.opening(rehearsal=True))
    return folder


def read(text: bytes) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text.decode(), newline="")))


def written(folder: Path, scratch: Path, **how: bool) -> tuple[rows_csv.Written, list[dict[str, str]]]:
    out = io.BytesIO()
    done = write_rows(folder, out, scratch, **how)
    return done, read(out.getvalue())


def test_every_row_reads_back_as_it_is_stored(kept: Path, tmp_path: Path, maker: Maker) -> None:
    done, rows = written(kept, tmp_path)
    with closing(open_ledger(kept, read_only=True)) as ledger:
        records = ledger.records(maker.case)
    assert (done.cases, done.rows, done.faults) == (1, len(records), [])
    for row, record in zip(rows, records, strict=True):
        event = record.event()
        assert row == {
            "case": record.case,
            "seq": str(record.seq),
            "kind": record.kind,
            "happened_us": str(event.happened.wall_us),
            "entered_us": str(event.entered.wall_us),
            "mode": event.mode,
            "target": "" if record.target is None else str(record.target),
            "body": record.body.decode(),
            "hash": record.hash.hex(),
        }
        assert digest(row["body"].encode()).hex() == row["hash"]


def test_a_rehearsal_is_never_among_real_cases(kept: Path, tmp_path: Path) -> None:
    assert {row["case"] for row in written(kept, tmp_path)[1]}.isdisjoint({OTHER})
    assert {row["case"] for row in written(kept, tmp_path, rehearsals=True)[1]} == {OTHER}


def test_a_case_that_does_not_prove_itself_is_left_out_and_named(
    kept: Path, tmp_path: Path, maker: Maker
) -> None:
    with unguarded(kept / "ledger.db") as connection:
        connection.execute("UPDATE event SET kind = 'mark.set' WHERE seq = 3")
    done, rows = written(kept, tmp_path)
    assert rows == []
    assert {(fault.case, fault.seq, fault.where) for fault in done.faults} >= {(maker.case, 3, "column")}


@pytest.mark.parametrize("gone", ["event", "event and case_line"])
def test_a_case_that_is_gone_is_named(kept: Path, tmp_path: Path, maker: Maker, gone: str) -> None:
    with unguarded(kept / "ledger.db") as connection:
        for table in gone.split(" and "):
            connection.execute(f"DELETE FROM {table} WHERE case_id = ?", (maker.case,))
    done, rows = written(kept, tmp_path)
    assert rows == []
    assert maker.case in {fault.case for fault in done.faults}


def test_more_processes_than_cases_are_no_trouble(
    kept: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    alone, parted = io.BytesIO(), io.BytesIO()
    write_rows(kept, alone, tmp_path)
    monkeypatch.setattr(rows_csv, "LARGE", 0)
    write_rows(kept, parted, tmp_path, processes=8)
    assert parted.getvalue() == alone.getvalue()


def test_parts_written_at_once_come_to_the_same_file(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with closing(open_ledger(folder)) as ledger:
        ledger.keep_checklist(CHECKLIST)
        for number in range(7):
            maker = Maker(f"AA{LETTERS[number]}2-M4", start=number * 100)
            ledger.append_case([maker.opening(), *(maker.note() for _ in range(number))])
    alone, parted = io.BytesIO(), io.BytesIO()
    write_rows(folder, alone, tmp_path)
    monkeypatch.setattr(rows_csv, "LARGE", 0)
    done = write_rows(folder, parted, tmp_path, processes=2)
    assert parted.getvalue() == alone.getvalue()
    assert (done.cases, done.rows) == (7, 7 + 21)


def test_where_there_is_no_ledger_it_says_so(tmp_path: Path) -> None:
    with pytest.raises(UnsafePlace, match="no ledger here"):
        write_rows(tmp_path, io.BytesIO(), tmp_path)
