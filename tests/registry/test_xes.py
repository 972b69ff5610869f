"""The XES log: every event comes back with its time, at its own offset, and the checker finds what is wrong."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from labcheck.caselog.case import Case
from labcheck.registry.checking.xes import check_xes
from labcheck.registry.errors import ExportError
from labcheck.registry.exporting import export_case
from labcheck.registry.pseudonyms import Pseudonyms
from labcheck.registry.rows.log import EventRow
from labcheck.registry.stored import StoredCase
from labcheck.registry.times import EPOCH
from tests.registry import xes_gate
from tests.registry.telling import everything, rehearsals, with_a_corrected_time

XES = "{http://www.xes-standard.org/}"


def exported(case: tuple[Case, StoredCase], folder: Path) -> Path:
    (path,) = export_case(*case, ["xes"], folder, profile="hospital")
    return path


def read_back(path: Path) -> list[tuple[int, datetime]]:
    """Entry number and time of every event, as a plain XML reader sees them."""
    found = []
    for event in ET.parse(path).getroot().iter(f"{XES}event"):
        values = {child.get("key"): child.get("value") for child in event}
        stamp = datetime.fromisoformat(values["time:timestamp"] or "")
        assert stamp.tzinfo is not None
        found.append((int(values["labcheck:seq"] or 0), stamp))
    return found


def test_every_rehearsal_comes_back_with_every_entry_and_every_time(tmp_path: Path) -> None:
    for case in [everything(), *rehearsals()]:
        path = exported(case, tmp_path)
        assert list(check_xes(path)) == []
        (trace,) = xes_gate.read(path)
        assert {e["labcheck:seq"]: e["time:timestamp"] for e in trace} == dict(read_back(path))
        read = read_back(path)
        assert sorted(seq for seq, _ in read) == [e.seq for e in case[0].log]
        assert [at for _, at in read] == sorted(at for _, at in read)


@pytest.mark.parametrize("offset", ["+05:30", "-03:30", "+00:00"])
def test_an_offset_comes_back_and_the_instant_with_it(offset: str, tmp_path: Path) -> None:
    case, stored = everything(offset=offset)
    for seq, at in read_back(exported((case, stored), tmp_path)):
        event = case.event(seq)
        assert event is not None
        assert (at - EPOCH) // timedelta(milliseconds=1) == event.happened.wall_us // 1000
        assert at.utcoffset() == timedelta(seconds=event.happened.off_s)


def test_both_ends_of_a_stage_carry_one_name_and_one_instance(tmp_path: Path) -> None:
    root = ET.parse(exported(everything(), tmp_path)).getroot()
    ends: dict[str, list[tuple[str, str]]] = {}
    for event in root.iter(f"{XES}event"):
        values = {child.get("key", ""): child.get("value", "") for child in event}
        if values["labcheck:kind"].startswith("stage.") and values["labcheck:kind"] != "stage.skipped":
            pair = (values["concept:name"], values["lifecycle:transition"])
            ends.setdefault(values["concept:instance"], []).append(pair)
    finished = [pairs for pairs in ends.values() if len(pairs) == 2]
    assert len(finished) == 8
    assert all(one[0] == two[0] and (one[1], two[1]) == ("start", "complete") for one, two in finished)


def attributes(path: Path) -> list[dict[str, str]]:
    """The attributes of every event, as a plain XML reader sees them."""
    events = ET.parse(path).getroot().iter(f"{XES}event")
    return [{child.get("key", ""): child.get("value", "") for child in event} for event in events]


def test_what_was_voided_is_there_but_begins_and_ends_nothing(tmp_path: Path) -> None:
    case = next(c for c in rehearsals() if c[0].voided)
    events = attributes(exported(case, tmp_path))
    out = {e["labcheck:seq"]: e for e in events if e["labcheck:voided"] == "true"}
    assert set(out) == {str(seq) for seq in case[0].voided}
    assert {e["lifecycle:transition"] for e in out.values()} == {"unknown"}
    paired = [
        e["concept:instance"]
        for e in events
        if e["labcheck:kind"] == "stage.closed" and e not in out.values()
    ]
    assert len(paired) == len(set(paired))


def test_every_column_of_the_log_is_an_attribute_and_nothing_else_but_the_clocks(tmp_path: Path) -> None:
    found: set[str] = set()
    for case in [everything(), *rehearsals()]:
        found |= {key for event in attributes(exported(case, tmp_path)) for key in event}
    ours = {key.removeprefix("labcheck:") for key in found if key.startswith("labcheck:")}
    clocks = {"uncertainty_s", "resolution_s"}
    assert ours <= (set(EventRow.model_fields) | clocks) - {"case_id", "recorder"}
    assert ours >= clocks | {
        "seq",
        "kind",
        "recorded_at",
        "occurred_at",
        "stands_at",
        "voided",
        "value",
        "stage_cusp",
    }


def test_a_compared_clock_says_its_offset_and_how_sure_it_is_in_its_own_trace(tmp_path: Path) -> None:
    path = exported(everything(), tmp_path)
    (compared,) = [e for e in attributes(path) if e["labcheck:kind"] == "clock.compared"]
    assert (compared["labcheck:code"], compared["labcheck:value"]) == ("imaging", "31.0")
    assert float(compared["labcheck:uncertainty_s"]) > 0
    log = [child.get("key", "") for child in ET.parse(path).getroot()]
    assert [key for key in log if key.startswith("labcheck:clock")] == []


def test_a_corrected_time_is_the_time_of_its_event(tmp_path: Path) -> None:
    case, closed = with_a_corrected_time()
    path = exported(case, tmp_path)
    assert list(check_xes(path)) == []
    (event,) = [e for e in attributes(path) if e["labcheck:seq"] == str(closed.seq)]
    assert event["time:timestamp"] == "2031-03-04T09:12:36.000+01:00"
    assert event["labcheck:occurred_at"] == "2031-03-04T09:12:40.000+01:00"


def test_the_registry_profile_is_refused_because_it_has_no_times(tmp_path: Path) -> None:
    with pytest.raises(ExportError, match="shifted"):
        export_case(
            *everything(), ["xes"], tmp_path, profile="registry", pseudonyms=Pseudonyms(bytes(range(32)))
        )


def _changed(old: str, new: str) -> Callable[[str], str]:
    def change(text: str) -> str:
        assert old in text
        return text.replace(old, new, 1)

    return change


STAMP = '<date key="time:timestamp" value="2031-03-04T09:04:30.000+01:00"/>'
BROKEN = {
    "no time": _changed(STAMP, ""),
    "a time without offset": _changed(STAMP, STAMP.replace("+01:00", "")),
    "a day that does not exist": _changed(STAMP, STAMP.replace("03-04T", "02-30T")),
    "out of order": _changed(STAMP, STAMP.replace("T09:04", "T08:04")),
    "no name": _changed('<string key="concept:name" value="ACT"/>', ""),
    "text in a number": _changed('key="labcheck:value" value="274.0"', 'key="labcheck:value" value="x"'),
    "a stage that ends twice": _changed('transition" value="start"', 'transition" value="complete"'),
    "no global": _changed('scope="event"', 'scope="none"'),
    "an entity bomb": _changed('encoding="UTF-8"?>', 'encoding="UTF-8"?><!DOCTYPE log [<!ENTITY a "aaaa">]>'),
    "not XML": _changed("</trace>", ""),
}  # fmt: skip


NOT_SEEN = {
    "no time",
    "a time without offset",
    "out of order",
    "no name",
    "a stage that ends twice",
    "no global",
    "an entity bomb",
}
"""What the independent reader takes; it takes a time without an offset for UTC."""


def test_the_independent_reader_refuses_what_it_is_known_to_refuse(tmp_path: Path) -> None:
    path = exported(everything(), tmp_path)
    whole = path.read_text(encoding="utf-8")
    taken = set()
    for name, spoil in BROKEN.items():
        path.write_text(spoil(whole), encoding="utf-8")
        try:
            events = [event for trace in xes_gate.read(path) for event in trace]
        except ValueError:
            continue
        taken.add(name)
        without = sum(event.get("time:timestamp") is None for event in events)
        assert without == (1 if name == "no time" else 0)
    assert taken == NOT_SEEN


@pytest.mark.parametrize("name", BROKEN)
def test_the_checker_finds(name: str, tmp_path: Path) -> None:
    path = exported(everything(), tmp_path)
    path.write_text(BROKEN[name](path.read_text(encoding="utf-8")), encoding="utf-8")
    findings = list(check_xes(path))
    assert findings
    assert all("\n" not in str(finding) for finding in findings)
