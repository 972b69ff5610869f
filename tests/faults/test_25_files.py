"""Fault 25, what leaves: every format, the page and the archive hold the texts, and in none of them do they act."""

from __future__ import annotations

import csv
import json
import re
import sqlite3
import warnings
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from contextlib import closing
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pydicom
import pytest

from labcheck.caselog.events import Event, NoteWritten, from_json
from labcheck.ledger.store import open_ledger
from labcheck.registry.cells import inert, unguarded
from labcheck.registry.exporting import WRITERS
from tests.faults.invariants import heads, hold
from tests.faults.long_form import long_only
from tests.faults.planted_ledger import KINDS, STORY
from tests.faults.planting import ACTING, JOINERS, TAG, steering
from tests.faults.running import run

pytestmark = pytest.mark.fault(25)

CASES = (STORY, KINDS)
FORMULA = re.compile(r"[=+\-@\t\r\n]")
OWN_FORM = re.compile(r"-?[0-9]+(\.[0-9]+)?|[+-][0-9]{2}:[0-9]{2}")
"""Numbers and offsets begin with a sign and are of a form that no text gets."""


def exported(planted: Path, case: str, name: str, to: Path) -> list[Path]:
    """Export a case; the command's own check finds nothing wrong with what it wrote."""
    words = ("--as", *name.split(), "--profile", "hospital", "--to", str(to))
    done = run(planted, "export", case, *words)
    assert done.status == 0, done.err
    paths = [Path(line) for line in done.out.splitlines()]
    whole = [path.parent / "datapackage.json" if path.suffix == ".csv" else path for path in paths]
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        checked = run(planted, "export", "--check", *map(str, dict.fromkeys(whole)))
    assert checked.status == 0, checked.out
    return [path for path in to.rglob("*") if path.is_file()]


def texts(value: Any) -> Iterator[str]:
    """Every text in a JSON value."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        yield from (text for inner in value.values() for text in texts(inner))
    elif isinstance(value, list):
        yield from (text for inner in value for text in texts(inner))


def events_of(planted: Path, case: str) -> tuple[Event, ...]:
    """The entries as the ledger keeps them."""
    with closing(open_ledger(planted, read_only=True)) as ledger:
        return ledger.events(case)


@pytest.mark.parametrize(
    ("case", "name"),
    [
        *((KINDS, name) for name in WRITERS),
        (STORY, "csv"),
        (STORY, "dicom"),
        *(
            pytest.param(case, name, marks=long_only)
            for case, name in [*((STORY, name) for name in WRITERS), *((case, "csv --excel") for case in CASES)]
            if name not in ("csv", "dicom")
        ),
    ],
)
def test_no_text_acts_in_a_file_that_leaves(planted: Path, tmp_path: Path, case: str, name: str) -> None:
    before = heads(planted, case)
    found = 0
    for path in exported(planted, case, name, tmp_path / "out"):
        given_back(planted, case, path)
        data = path.read_bytes()
        if path.suffix == ".dcm":
            found += in_dicom(path)
            continue
        text = data.decode("utf-8-sig")
        found += text.count(TAG)
        line_end = {"U+000D"} if path.suffix == ".csv" else set()
        assert set(steering(text)) - line_end - JOINERS == set(), path.name
        if path.suffix == ".csv":
            in_csv(path)
        elif path.suffix == ".xes":
            ET.fromstring(text)
    assert found > 20
    hold(planted, before, "exported", case=case, made=False)


def in_csv(path: Path) -> None:
    """No cell begins as a formula, and the guard comes off again."""
    with path.open(encoding="utf-8-sig", newline="") as file:
        for row in csv.reader(file):
            for cell in row:
                assert not FORMULA.match(cell) or OWN_FORM.fullmatch(cell), (path.name, cell)
                assert inert(unguarded(cell)) == unguarded(cell)


def in_dicom(path: Path) -> int:
    """No text element holds a control sign, and a backslash parts none of them. How many hold a text of ours."""
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        data = pydicom.dcmread(path)
        elements = [element for element in data.iterall() if element.VR in ("LO", "SH", "UC", "UT", "ST", "LT", "PN")]
        found = 0
        for element in elements:
            assert element.VM <= 1, element
            value = str(element.value or "")
            allowed = {"U+000D"} if element.VR in ("UT", "ST", "LT") else set()
            assert set(steering(value)) - allowed - JOINERS == set(), element
            assert element.VR in ("UT", "ST", "LT") or not set("\n\t") & set(value), element
            found += TAG in value
    return found


def given_back(planted: Path, case: str, path: Path) -> None:
    """The lossless formats give every note back as it was kept; the tables give it back as cleaned."""
    kept = {e.what.text for e in events_of(planted, case) if isinstance(e.what, NoteWritten)}
    assert any(TAG in text for text in kept)
    if path.suffix in (".json", ".jsonl") and ".fhir" not in path.name and path.name != "datapackage.json":
        assert kept <= set(texts(json.loads(path.read_bytes())))
    elif path.name == "events.csv":
        with path.open(encoding="utf-8-sig", newline="") as file:
            assert {inert(text) for text in kept} <= {unguarded(row["text"]) for row in csv.DictReader(file)}


@pytest.mark.parametrize("case", CASES)
def test_the_archive_holds_the_texts_and_proves_itself_alone(planted: Path, tmp_path: Path, case: str) -> None:
    before = heads(planted, case)
    archived = tmp_path / "case.db"
    assert run(planted, "archive", case, "--to", str(archived)).status == 0
    assert run(planted, "verify", "--file", str(archived)).status == 0
    with closing(sqlite3.connect(archived)) as alone:
        stored = [body for (body,) in alone.execute("SELECT body FROM event ORDER BY seq")]
    assert any(TAG in body for body in stored)
    # Canonical bodies are JSON: a control sign in them is an escape.
    assert not any(ord(sign) < 0x20 for body in stored for sign in body)
    first = json.loads(stored[0])
    first.pop("prev")
    assert from_json(json.dumps(first)).case == case
    hold(planted, before, "archived", case=case, made=False)


def test_no_text_acts_in_the_table_of_every_row(planted: Path, tmp_path: Path) -> None:
    before = heads(planted, KINDS)
    assert run(planted, "events", "--profile", "hospital", "--to", str(tmp_path / "rows")).status == 0
    (path,) = (tmp_path / "rows").iterdir()
    text = path.read_bytes().decode("utf-8")
    assert text.count(TAG) > 100
    # Its bodies are the hashed bytes themselves, as its header says: C0 is escaped there, and none is a formula.
    assert not {f"U+{code:04X}" for code in range(0x20) if code != 0x0D} & set(steering(text))
    with path.open(encoding="utf-8", newline="") as file:
        assert [cell for row in csv.reader(file) for cell in row if FORMULA.match(cell)] == []
    hold(planted, before, "rows", case=KINDS, made=False)


class _Page(HTMLParser):
    """Collects what could act in a page."""

    def __init__(self) -> None:
        super().__init__()
        self.acting: list[str] = []
        self.text = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag in ("script", "img", "iframe", "object", "embed", "link", "base", "form", "a"):
            self.acting.append(tag)
        self.acting += [f"{tag} {name}" for name, value in attrs if name.startswith("on") or TAG in (value or "")]

    def handle_data(self, data: str) -> None:
        self.text += data


@pytest.mark.parametrize("case", CASES)
def test_no_text_acts_in_the_debriefs_page(planted: Path, tmp_path: Path, case: str) -> None:
    before = heads(planted, case)
    assert run(planted, "debrief", case, "--html", str(tmp_path / "page.html")).status == 0
    text = (tmp_path / "page.html").read_bytes().decode("utf-8")
    assert steering(text) == []
    page = _Page()
    page.feed(text)
    assert page.acting == []
    assert ACTING["page"].split(TAG)[0] in page.text
    assert "default-src 'none'" in text
    hold(planted, before, "page", case=case, made=False)
