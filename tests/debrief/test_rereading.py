"""Figures of old cases made anew: the quick way says what the ordinary one says, or says nothing at all."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from labcheck.caselog.folding import begin, refold
from labcheck.caselog.steps import step_lines
from labcheck.checklist.reading import read_checklist
from labcheck.debrief import rereading
from labcheck.debrief.rereading import reread, reread_one
from labcheck.debrief.summary import Summary, summarise
from labcheck.ledger.chain import digest, read_event
from labcheck.ledger.resume import load
from labcheck.ledger.store import open_ledger
from tests.debrief.cases import ONE, TWO, dense, key, played, put

NAMES = (ONE, TWO, "splitter-one-cusp", "anterior-mitral", "paper-record")


@pytest.fixture(scope="module")
def shelf(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("shelf") / "ledger"
    for number, name in enumerate(NAMES):
        put(folder, name, key(number))
    return folder


@pytest.fixture
def folder(shelf: Path, tmp_path: Path) -> Path:
    """A copy of the ledger that a test may damage."""
    return Path(shutil.copytree(shelf, tmp_path / "ledger"))


def ordinary(folder: Path) -> tuple[dict[str, str], dict[str, Summary]]:
    """Every head, and every summary made from the database."""
    ledger = open_ledger(folder, read_only=True)
    heads, out = {}, {}
    for line in ledger.cases():
        loaded = load(ledger, line.case)
        heads[line.case] = ledger.head(line.case).hash_hex
        case = refold(begin(line.case, read_checklist(loaded.checklist, "x")), loaded.events)
        out[line.case] = summarise(case, heads[line.case])
    ledger.close()
    return heads, out


def test_the_quick_way_gives_the_very_summaries_of_the_ordinary_one(shelf: Path) -> None:
    heads, expected = ordinary(shelf)
    assert len(expected) == len(NAMES)
    assert reread(shelf, heads) == expected


def test_several_processes_give_what_one_gives(shelf: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    heads, expected = ordinary(shelf)
    shared = rereading._shared(shelf, tuple(heads.items()), 2)
    assert shared == expected
    monkeypatch.setattr(rereading, "_shared", lambda *_: None)
    assert reread(shelf, heads) == expected


@pytest.mark.parametrize("at", [0.1, 0.5, 0.999])
def test_a_mirror_with_one_flipped_bit_proves_nothing(folder: Path, at: float) -> None:
    heads, expected = ordinary(folder)
    path = folder / "mirror" / f"{key(1)}.log"
    text = bytearray(path.read_bytes())
    text[int(len(text) * at)] ^= 1
    path.write_bytes(text)
    found = reread(folder, heads)
    assert set(expected) - set(found) == {key(1)}


@pytest.mark.parametrize("hashed_anew", [False, True])
def test_another_time_in_one_entry_is_not_believed_even_with_a_digest_of_its_own(
    folder: Path, hashed_anew: bool
) -> None:
    heads, expected = ordinary(folder)
    path = folder / "mirror" / f"{key(1)}.log"
    lines = path.read_bytes().splitlines(keepends=True)
    name, _, body = lines[20].rstrip(b"\n").partition(b" ")
    place = body.index(b'"wall_us":') + 18
    other = body[:place] + (b"1" if body[place : place + 1] != b"1" else b"2") + body[place + 1 :]
    lines[20] = (digest(other).hex().encode() if hashed_anew else name) + b" " + other + b"\n"
    path.write_bytes(b"".join(lines))
    # What was changed is an event like any other: only the chain tells.
    assert read_event(other, bytes.fromhex(lines[19][:64].decode())).seq == 21
    assert reread_one(folder, key(1), heads[key(1)]) is None
    assert reread_one(folder, key(0), heads[key(0)]) == expected[key(0)]


@pytest.mark.parametrize("change", ["cut", "torn", "swapped", "gone", "another case", "longer"])
def test_a_mirror_that_is_not_the_whole_chain_up_to_the_head_proves_nothing(
    folder: Path, change: str
) -> None:
    heads, _ = ordinary(folder)
    path, other = (folder / "mirror" / f"{key(number)}.log" for number in (1, 0))
    lines = path.read_bytes().splitlines(keepends=True)
    path.write_bytes(
        {
            "cut": b"".join(lines[:-1]),
            "torn": b"".join(lines)[:-1],
            "swapped": b"".join([*lines[:3], lines[4], lines[3], *lines[5:]]),
            "gone": b"",
            "another case": other.read_bytes(),
            "longer": b"".join([*lines, lines[-1]]),
        }[change]
    )
    assert reread_one(folder, key(1), heads[key(1)]) is None
    assert reread_one(folder, key(0), heads[key(0)]) is not None


def test_a_log_made_up_anew_does_not_reach_the_ledger_s_head(folder: Path) -> None:
    other = folder.parent / "made-up"
    put(other, ONE, key(1))
    shutil.copy(other / "mirror" / f"{key(1)}.log", folder / "mirror")
    heads = heads_of(folder)
    assert reread_one(folder, key(1), heads[key(1)]) is None


def heads_of(folder: Path) -> dict[str, str]:
    """Every head, as the database has it."""
    ledger = open_ledger(folder, read_only=True)
    heads = {line.case: ledger.head(line.case).hash_hex for line in ledger.cases()}
    ledger.close()
    return heads


def test_another_text_under_a_checklist_s_digest_proves_nothing(folder: Path) -> None:
    heads = heads_of(folder)
    rereading._checklist.cache_clear()
    for path in (folder / "mirror").glob("*.toml"):
        path.write_bytes(path.read_bytes() + b"\n# another text\n")
    assert reread(folder, heads) == {}


@pytest.mark.parametrize("name", [ONE, TWO, "fused-leaflet", "dense"])
def test_completeness_counts_the_lines_that_the_debrief_calls_unanswered(name: str) -> None:
    case = dense() if name == "dense" else played(name)
    lines = [line for slot in dict.fromkeys(v.slot for v in case.visits) for line in step_lines(case, slot)]
    whole = summarise(case, "").whole
    assert whole.steps == len(lines)
    assert whole.unanswered == sum(line.unanswered for line in lines)
    assert whole.killers == sum(line.unanswered and line.step.killer for line in lines)
