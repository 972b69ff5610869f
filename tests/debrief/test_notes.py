"""Debrief notes: append-only, with a trail, by role and never by name."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from pydantic import ValidationError

from labcheck.caselog.stamps import Moment
from labcheck.debrief.notebook import NAME, append, read_notes
from labcheck.debrief.notes import Note, debriefing, roles
from labcheck.ledger.errors import Damaged
from tests.debrief.cases import ONE, played

AT = Moment(wall_us=1_930_000_000_000_000, off_s=3600, tz="Test/Zone")


def write(folder: Path, kind: str = "learned", text: str = "count aloud", **fields: Any) -> Note:
    def make(before: tuple[Note, ...], n: int, prev: str) -> Note:
        return Note(n=n, prev=prev, at=AT, case="K7Q2-M4", kind=kind, text=text, **fields)  # type: ignore[arg-type]

    return append(folder, make)


def three(folder: Path) -> tuple[Note, ...]:
    write(folder)
    write(folder, "action", "a second guide on the table", owner="nurse", by="2031-04-30")
    write(folder, "action", "ask for a second pump", owner="manager")
    return read_notes(folder)


def test_every_note_names_the_digest_of_the_one_before(tmp_path: Path) -> None:
    notes = three(tmp_path)
    assert [n.n for n in notes] == [1, 2, 3]
    assert [n.prev for n in notes[1:]] == [n.digest for n in notes[:-1]]


def test_an_action_is_open_until_a_later_note_says_otherwise(tmp_path: Path) -> None:
    three(tmp_path)
    write(tmp_path, "done", "it is there", target=2)
    write(tmp_path, "given_up", "there is no money", target=3)
    actions = {a.n: a for a in debriefing(read_notes(tmp_path)).actions}
    assert (actions[2].state, actions[2].said) == ("done", "it is there")
    assert (actions[3].state, actions[3].said) == ("given_up", "there is no money")
    assert "2031-04-30" in actions[2].words


def test_earlier_notes_stay_as_they_were_written(tmp_path: Path) -> None:
    three(tmp_path)
    before = (tmp_path / NAME).read_bytes()
    write(tmp_path, "done", "it is there", target=2)
    assert (tmp_path / NAME).read_bytes().startswith(before)


@pytest.mark.parametrize("line", [1, 2, 3])
def test_a_changed_or_missing_line_is_found(tmp_path: Path, line: int) -> None:
    three(tmp_path)
    path = tmp_path / NAME
    lines = path.read_bytes().splitlines(keepends=True)
    path.write_bytes(b"".join(lines).replace(b"second", b"2nd", 1))
    with pytest.raises(Damaged, match="line 2 is not as it was written"):
        read_notes(tmp_path)
    path.write_bytes(b"".join(lines[: line - 1] + lines[line:]))
    if line < 3:
        with pytest.raises(Damaged, match=f"line {line}"):
            read_notes(tmp_path)


def test_nothing_is_added_to_a_damaged_list(tmp_path: Path) -> None:
    three(tmp_path)
    path = tmp_path / NAME
    path.write_bytes(path.read_bytes().replace(b"second", b"2nd", 1))
    before = path.read_bytes()
    with pytest.raises(Damaged):
        write(tmp_path)
    assert path.read_bytes() == before


def test_an_unfinished_last_line_was_never_saved_and_gives_way(tmp_path: Path) -> None:
    notes = three(tmp_path)
    path = tmp_path / NAME
    with path.open("ab") as out:
        out.write(b"0123 {half of a no")
    assert read_notes(tmp_path) == notes
    assert write(tmp_path, text="a whole one").n == 4
    assert len(read_notes(tmp_path)) == 4


def test_the_file_is_ours_alone(tmp_path: Path) -> None:
    write(tmp_path)
    assert (tmp_path / NAME).stat().st_mode & 0o077 == 0


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"text": "ask Dr Smith"}, "names a person"),
        ({"text": "ask sister anna"}, "names a person"),
        ({"text": "patient 12345678"}, "patient"),
        ({"text": "two\nlines"}, "one line"),
        ({"text": "\x1b[31mred"}, "printable"),
        ({"kind": "action"}, "owner's role"),
        ({"kind": "action", "owner": "Anna Smith"}, "owner"),
        ({"kind": "action", "owner": "nurse", "by": "2031-02-30"}, "date that exists"),
        ({"owner": "nurse"}, "only an action"),
        ({"kind": "done"}, "named by its number"),
        ({"by": "2031-02-03"}, "only an action"),
        ({"kind": "action", "owner": "nurse", "by": "soon"}, "write it as 2031-04-30"),
        ({"kind": "action", "owner": "nurse", "by": "20310430"}, "write it as 2031-04-30"),
        ({"text": "x"}, "3 to 300 letters"),
        ({"text": "x" * 301}, "3 to 300 letters"),
    ],
)
def test_a_note_that_is_not_fair_is_refused_and_nothing_stays(
    tmp_path: Path, fields: dict[str, Any], said: str
) -> None:
    with pytest.raises(ValidationError, match=said):
        write(tmp_path, **fields)
    assert read_notes(tmp_path) == ()


def test_roles_come_from_plan_and_checklist_and_hold_no_name() -> None:
    found = roles(played(ONE))
    assert {"nurse", "operator", "echo"} <= set(found)
    assert all(role == role.lower() for role in found)


def test_an_open_action_is_past_its_day_the_day_after_and_a_closed_one_never(tmp_path: Path) -> None:
    three(tmp_path)
    dated, undated = debriefing(read_notes(tmp_path)).actions
    assert not dated.overdue("2031-04-30")
    assert dated.overdue("2031-05-01")
    assert not undated.overdue("9999-01-01")
    write(tmp_path, "done", "it is there", target=2)
    assert not debriefing(read_notes(tmp_path)).actions[0].overdue("2031-05-01")
