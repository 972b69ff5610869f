"""The case as an XES event log (IEEE 1849): one trace, one event per entry of the log, for process analysis.

Events stand in the order in which they happened; ``labcheck:seq`` has the order in which they were entered.
What was voided is there and marked, as everywhere, but begins and ends nothing. Every column of ``events`` that is
not empty is an attribute ``labcheck:COLUMN``.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any
from xml.sax.saxutils import quoteattr

from labcheck import __version__
from labcheck.registry.cells import inert
from labcheck.registry.columns import Profile
from labcheck.registry.naming import step_words, words
from labcheck.registry.profiles import values
from labcheck.registry.tables import Tables
from labcheck.registry.times import read_rfc3339

STARTS = ("stage.opened", "attempt.opened", "energy.started", "run.started", "bailout.opened")
ENDS = ("stage.closed", "attempt.closed", "energy.stopped", "run.stopped", "bailout.closed")
_NO_XML = re.compile("[\ufffe\uffff\ud800-\udfff]")
_ELSEWHERE = frozenset({"case_id", "recorder"})
"""Columns that stand in an attribute of the standard instead: of the trace, and as the resource."""

Row = dict[str, Any]


def case_log(tables: Tables) -> bytes:
    """The whole log as UTF-8 XML. The profile must carry clock times."""
    frame = tables.frame
    rows = [values(row, frame.profile) for row in tables.rows["events"]]
    crossed = _crossed(rows)
    rows.sort(key=lambda row: (read_rfc3339(row["stands_at"]), row["seq"]))
    case = values(tables.rows["cases"][0], frame.profile)
    compared = {clock["seq"]: clock for clock in (values(c, frame.profile) for c in tables.rows["clocks"])}
    lines = [
        *_heading(),
        _string("labcheck:generator", f"labcheck {__version__}", 1),
        _string("labcheck:profile", frame.profile, 1),
        _boolean("labcheck:rehearsal", case["rehearsal"], 1),
        "  <trace>",
        _string("concept:name", case["case_id"], 2),
        *(_string(f"labcheck:{name}", case[name], 2) for name in _CASE if case.get(name)),
        *(line for row in rows for line in _event(tables, row, crossed, compared.get(row["seq"]))),
        "  </trace>",
        "</log>",
        "",
    ]
    return "\n".join(lines).encode("utf-8")


def _crossed(rows: list[Row]) -> frozenset[int]:
    """The entries whose end stands before their start, by a set clock or an estimate: they are no pair in time."""
    at = {row["seq"]: read_rfc3339(row["stands_at"]) for row in rows}
    found: set[int] = set()
    for row in rows:
        if row["kind"] in ENDS and row["refers_to"] in at and at[row["seq"]] < at[row["refers_to"]]:
            found |= {row["seq"], row["refers_to"]}
    return frozenset(found)


_CASE = ("subject_id", "technique", "substrate", "targets", "checklist_id", "checklist_digest", "access_at")


def _heading() -> list[str]:
    extensions = (
        ("Concept", "concept", "http://www.xes-standard.org/concept.xesext"),
        ("Time", "time", "http://www.xes-standard.org/time.xesext"),
        ("Lifecycle", "lifecycle", "http://www.xes-standard.org/lifecycle.xesext"),
        ("Organizational", "org", "http://www.xes-standard.org/org.xesext"),
    )
    return [
        '<?xml version="1.0" encoding="UTF-8"?>',
        '<log xes.version="1849-2016" xes.features="" xmlns="http://www.xes-standard.org/">',
        *(f'  <extension name="{name}" prefix="{prefix}" uri="{uri}"/>' for name, prefix, uri in extensions),
        '  <global scope="trace">',
        _string("concept:name", "", 2),
        "  </global>",
        '  <global scope="event">',
        _string("concept:name", "", 2),
        _string("lifecycle:transition", "complete", 2),
        _date("time:timestamp", "1970-01-01T00:00:00.000+00:00", 2),
        "  </global>",
        '  <classifier name="activity" keys="concept:name"/>',
    ]


def _event(tables: Tables, row: Row, crossed: frozenset[int], compared: Row | None) -> Iterator[str]:
    yield "    <event>"
    yield _string("concept:name", _name(tables, tables.frame.profile, row), 3)
    yield _string("concept:instance", f"{row['refers_to'] if row['kind'] in ENDS else row['seq']}", 3)
    transition = "start" if row["kind"] in STARTS else "complete"
    unpaired = row["voided"] or row["seq"] in crossed
    yield _string("lifecycle:transition", "unknown" if unpaired else transition, 3)
    yield _date("time:timestamp", row["stands_at"], 3)
    if row.get("recorder"):
        yield _string("org:resource", row["recorder"], 3)
    yield _string("org:role", "recorder", 3)
    more = (
        {name: compared[name] for name in ("uncertainty_s", "resolution_s")} if compared is not None else {}
    )
    for name, value in {**row, **more}.items():
        if name not in _ELSEWHERE and value not in (None, ""):
            yield _attribute(f"labcheck:{name}", value)
    yield "    </event>"


def _attribute(key: str, value: object) -> str:
    """One attribute of an event, by the type of its column."""
    if isinstance(value, bool):
        return _boolean(key, value, 3)
    if isinstance(value, int):
        return f'{"  " * 3}<int key="{key}" value="{value}"/>'
    if isinstance(value, float):
        return f'{"  " * 3}<float key="{key}" value="{value!r}"/>'
    text = str(value)
    return _date(key, text, 3) if key.endswith("_at") else _string(key, text, 3)


def _name(tables: Tables, profile: Profile, row: Row) -> str:
    """The activity: both ends of a stretch carry the same name, so that an analyst can pair them."""
    checklist = tables.frame.case.checklist
    kind, stage, code = row["kind"], row["stage"] or "", row["code"] or ""
    cusp = f", {row['cusp']}" if row["cusp"] else ""
    if kind.startswith("stage."):
        return words(checklist, profile, "stage", stage) + cusp
    if kind.startswith("attempt."):
        return f"attempt in {words(checklist, profile, 'stage', stage)}{cusp}"
    if kind.startswith("energy."):
        return f"energy{cusp}"
    if kind == "step.answered":
        return step_words(checklist, profile, stage, code)
    head = kind.split(".")[0]
    known = {"run": "run", "bailout": "bailout", "reading": "reading", "dose": "drug", "device": "device",
             "fault": "fault", "sample": "reading", "decision": "decision"}  # fmt: skip
    title = words(checklist, profile, known[head], code) if head in known and code else kind
    return f"{title} (sample sent)" if kind == "sample.sent" else title


def _string(key: str, value: str, depth: int) -> str:
    text = quoteattr(_NO_XML.sub("\ufffd", inert(value)), {"\n": "&#10;", "\t": "&#9;"})
    return f"{'  ' * depth}<string key={quoteattr(key)} value={text}/>"


def _date(key: str, value: str, depth: int) -> str:
    return f'{"  " * depth}<date key="{key}" value="{value}"/>'


def _boolean(key: str, value: bool, depth: int) -> str:
    return f'{"  " * depth}<boolean key="{key}" value="{"true" if value else "false"}"/>'
