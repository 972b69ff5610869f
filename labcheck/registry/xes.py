"""The case as an XES event log (IEEE 1849): one trace, one event per entry of the log, for process analysis.

Events stand in the order in which they happened; ``labcheck:seq`` has the order in which they were entered.
What was voided is there and marked, as everywhere.
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
_TEXTS = ("kind", "fact_kind", "mode", "time_quality", "stage", "cusp", "ostium", "code", "choice", "leads_to",
          "unit", "reason_code", "value_text", "text", "reason", "late_reason")  # fmt: skip
_NUMBERS = ("seq", "visit", "attempt", "refers_to", "voided_by", "precision_s")
_DECIMALS = ("t_rel_s", "lag_s", "value")

Row = dict[str, Any]


def case_log(tables: Tables) -> bytes:
    """The whole log as UTF-8 XML. The profile must carry clock times."""
    frame = tables.frame
    rows = [values(row, frame.profile) for row in tables.rows["events"]]
    crossed = _crossed(rows)
    rows.sort(key=lambda row: (read_rfc3339(row["occurred_at"]), row["seq"]))
    case = values(tables.rows["cases"][0], frame.profile)
    lines = [
        *_heading(),
        _string("labcheck:generator", f"labcheck {__version__}", 1),
        _string("labcheck:profile", frame.profile, 1),
        _boolean("labcheck:rehearsal", case["rehearsal"], 1),
        *(_clock(row) for row in (values(c, frame.profile) for c in tables.rows["clocks"])),
        "  <trace>",
        _string("concept:name", case["case_id"], 2),
        *(_string(f"labcheck:{name}", case[name], 2) for name in _CASE if case.get(name)),
        *(line for row in rows for line in _event(tables, frame.profile, row, crossed)),
        "  </trace>",
        "</log>",
        "",
    ]
    return "\n".join(lines).encode("utf-8")


def _crossed(rows: list[Row]) -> frozenset[int]:
    """The entries whose end stands before their start, by a set clock or an estimate: they are no pair in time."""
    at = {row["seq"]: read_rfc3339(row["occurred_at"]) for row in rows}
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


def _event(tables: Tables, profile: Profile, row: Row, crossed: frozenset[int]) -> Iterator[str]:
    yield "    <event>"
    yield _string("concept:name", _name(tables, profile, row), 3)
    yield _string("concept:instance", f"{row['refers_to'] if row['kind'] in ENDS else row['seq']}", 3)
    transition = "start" if row["kind"] in STARTS else "complete"
    yield _string("lifecycle:transition", "unknown" if row["seq"] in crossed else transition, 3)
    yield _date("time:timestamp", row["occurred_at"], 3)
    yield _date("labcheck:recorded", row["recorded_at"], 3)
    if row.get("recorder"):
        yield _string("org:resource", row["recorder"], 3)
    yield _string("org:role", "recorder", 3)
    for name in _TEXTS:
        if row.get(name):
            yield _string(f"labcheck:{name}", row[name], 3)
    for name in _NUMBERS:
        if row[name] is not None:
            yield f'{"  " * 3}<int key="labcheck:{name}" value="{row[name]}"/>'
    for name in _DECIMALS:
        if row[name] is not None:
            yield f'{"  " * 3}<float key="labcheck:{name}" value="{row[name]!r}"/>'
    for name in ("late", "voided", "amended"):
        yield _boolean(f"labcheck:{name}", row[name], 3)
    yield "    </event>"


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


def _clock(row: Row) -> str:
    return f'  <float key="labcheck:clock_offset_s_{row["seq"]}" value="{row["clock_offset_s"]!r}"/>'


def _string(key: str, value: str, depth: int) -> str:
    text = quoteattr(_NO_XML.sub("\ufffd", inert(value)), {"\n": "&#10;", "\t": "&#9;"})
    return f"{'  ' * depth}<string key={quoteattr(key)} value={text}/>"


def _date(key: str, value: str, depth: int) -> str:
    return f'{"  " * depth}<date key="{key}" value="{value}"/>'


def _boolean(key: str, value: bool, depth: int) -> str:
    return f'{"  " * depth}<boolean key="{key}" value="{"true" if value else "false"}"/>'
