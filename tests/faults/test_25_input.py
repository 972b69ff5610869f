"""Fault 25, the ways in: text is cleaned or refused once, in one spelling, and comes back as it was taken."""

from __future__ import annotations

import json
import tomllib
import unicodedata
from collections.abc import Iterator
from contextlib import closing
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from labcheck.caselog.script import read_script
from labcheck.checklist.complaint import ChecklistError
from labcheck.debrief.agreed import read_agreed
from labcheck.ledger.clocks import SystemClock
from labcheck.ledger.store import open_ledger
from labcheck.registry.errors import ExportError
from labcheck.registry.identifiers import Identifiers, read_identifiers
from tests.faults.invariants import heads, hold
from tests.faults.planted_ledger import STORY
from tests.faults.planting import ACTING, SOFT, document, steering
from tests.faults.running import run
from tests.faults.test_25_files import texts
from tests.ledger.making import CASE, CHECKLIST, Maker

pytestmark = pytest.mark.fault(25)

REHEARSALS = Path(__file__).parents[2] / "checklists" / "rehearsals"
HARD = [kind for kind in ACTING if kind not in SOFT]
APART = "cafe\u0301 n\u0303"
"""Letters with their accents written apart, as some systems' clipboards and editors give them."""
AGREED: dict[str, Any] = {
    "format": 1,
    "join": [{"checklist": "small", "revisions": ["1"], "reason": "wording only"}],
    "rates": [
        {
            "technique": "small", "acceptable": Decimal("0.05"), "unacceptable": Decimal("0.15"),
            "agreed": "2031-01-10", "reason": "agreed at the meeting",
        }
    ],
}  # fmt: skip


def leaves(value: Any, where: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """The way to every text in a TOML file's tables."""
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from leaves(inner, (*where, key))
    elif isinstance(value, list):
        for number, inner in enumerate(value):
            yield from leaves(inner, (*where, number))
    elif isinstance(value, str):
        yield where


def put(tables: dict[str, Any], where: tuple[Any, ...], text: str) -> str:
    """The file with one text replaced; the tables stay as they are."""
    (*way, last) = where
    at: Any = tables
    for step in way:
        at = at[step]
    before, at[last] = at[last], text
    made = document(tables)
    at[last] = before
    return made


def refused(read: Any, text: str) -> str:
    """The one line with which a file is refused."""
    with pytest.raises((ChecklistError, ExportError)) as caught:
        read(text)
    line = str(caught.value)
    assert "\n" not in line
    assert steering(line) == []
    return line


@pytest.mark.parametrize("kind", HARD)
def test_a_script_with_a_text_that_steers_is_refused_wherever_it_stands(planted: Path, kind: str) -> None:
    before = heads(planted, STORY)
    tried: set[str] = set()
    for path in sorted(REHEARSALS.glob("*.toml")):
        tables = tomllib.loads(path.read_text(encoding="utf-8"), parse_float=Decimal)
        for where in leaves(tables):
            name = ".".join(str(step) for step in where if not isinstance(step, int))
            if name not in tried:
                tried.add(name)
                refused(lambda text: read_script(text, "script.toml"), put(tables, where, ACTING[kind]))
    assert {"title", "plan.access", "entry.do", "entry.text", "entry.reason", "entry.say"} <= tried
    hold(planted, before, "script", case=STORY, made=False)


@pytest.mark.parametrize("kind", HARD)
def test_files_beside_the_ledger_are_refused_with_a_text_that_steers(planted: Path, kind: str) -> None:
    before = heads(planted, STORY)
    for where in leaves(AGREED):
        refused(lambda text: read_agreed(text.encode(), "debrief.toml"), put(AGREED, where, ACTING[kind]))
    for field in Identifiers.model_fields:
        tables = {STORY: {field: ACTING[kind]}}
        refused(lambda text: read_identifiers(text.encode(), "ids.toml"), document(tables))
    refused(lambda text: read_identifiers(text.encode(), "ids.toml"), document({ACTING[kind]: {}}))
    hold(planted, before, "files", case=STORY, made=False)


@pytest.mark.parametrize("text", [*(ACTING[kind] for kind in SOFT), APART], ids=[*SOFT, "apart"])
def test_a_paper_record_comes_back_as_it_was_written(planted: Path, tmp_path: Path, text: str) -> None:
    before = heads(planted, STORY)
    source = REHEARSALS / "paper-record.toml"
    tables = tomllib.loads(source.read_text(encoding="utf-8"), parse_float=Decimal)
    planted_here = 0
    for entry in tables["entry"]:
        for key in ("text", "note", "reason", "late_reason"):
            if key in entry:
                entry[key], planted_here = text, planted_here + 1
    tables["entry"].insert(1, {"at": tables["entry"][0]["at"], "do": "note.write", "text": text})
    (tmp_path / "paper.toml").write_text(document(tables), encoding="utf-8")
    done = run(planted, "transcribe", str(tmp_path / "paper.toml"))
    assert done.status == 0, done.err
    key = done.out.split(":")[0]
    kept = unicodedata.normalize("NFC", text)
    with closing(open_ledger(planted, read_only=True)) as ledger:
        stored = [value for event in ledger.events(key) for value in texts(event.model_dump(mode="json"))]
    assert stored.count(kept) > planted_here > 0
    words = ("--as", "csv", "--as", "json", "--profile", "hospital", "--to", str(tmp_path / "out"))
    assert run(planted, "export", key, *words).status == 0
    (path,) = (tmp_path / "out").glob("*.json")
    assert list(texts(json.loads(path.read_bytes()))).count(kept) >= stored.count(kept)
    assert run(planted, "verify", key).status == 0
    hold(planted, before, "paper", case=STORY, made=False)


@pytest.mark.parametrize("zone", ["\x1b]0;Zq\x07", "\udcff\udcfe", "e\u0301", "\u202e", "Z" * 200], ids=ascii)
def test_a_time_zone_that_somebody_set_to_nonsense_stops_no_press(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, zone: str
) -> None:
    monkeypatch.setenv("TZ", zone)
    stamp = SystemClock().stamp()
    assert stamp.tz.isascii()
    assert stamp.tz.isprintable()
    ledger = open_ledger(tmp_path / "ledger")
    ledger.keep_checklist(CHECKLIST)
    maker = Maker()
    acks = [ledger.append(maker.opening()), ledger.append(maker.note("pressed", entered=stamp))]
    ledger.close()
    hold(tmp_path / "ledger", {ack.seqs[-1]: ack.head_hex for ack in acks}, "zone")
    assert heads(tmp_path / "ledger", CASE).keys() == {1, 2}
