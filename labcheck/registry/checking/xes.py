"""Checking an XES log: every event has a name, a transition and a time with an offset; order and pairs hold."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections import Counter
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

from labcheck.checklist.complaint import shown
from labcheck.registry.checking.finding import Finding, instant

DOCTYPE = b"<!DOCTYPE"


def check_xes(path: Path) -> Iterator[Finding]:
    """Everything wrong with an XES file. A document type is refused: entities can be bombs."""
    data = path.read_bytes()
    if DOCTYPE in data[:4096].upper():
        yield Finding("", "has a document type declaration, which is not read here")
        return
    try:
        root = ET.fromstring(data)  # noqa: S314 (no document type, so no entities)
    except ET.ParseError as fault:
        yield Finding("", f"is not XML: {fault}; it is cut off or damaged, export or copy it again")
        return
    traces = [element for element in root if _tag(element) == "trace"]
    if _tag(root) != "log" or not traces:
        yield Finding(
            "", f"is not an XES log with a trace: its root is {shown(_tag(root))}, with {len(traces)} traces"
        )
        return
    for scope in ("trace", "event"):
        if not any(_tag(e) == "global" and e.get("scope") == scope for e in root):
            yield Finding("log", f'has no global scope="{scope}"')
    for number, trace in enumerate(traces, 1):
        yield from _trace(trace, f"trace {number}")


def _trace(trace: ET.Element, where: str) -> Iterator[Finding]:
    if "concept:name" not in _attributes(trace):
        yield Finding(where, "has no concept:name")
    last: datetime | None = None
    open_: Counter[tuple[str, str]] = Counter()
    for number, event in enumerate((e for e in trace if _tag(e) == "event"), 1):
        place = f"{where}, event {number}"
        found = _attributes(event)
        for name in ("concept:name", "lifecycle:transition", "time:timestamp"):
            if not found.get(name):
                yield Finding(place, f"has no {name}")
        yield from _numbers(event, place)
        try:
            at = instant(found.get("time:timestamp", ""))
        except ValueError as fault:
            yield Finding(place, str(fault))
            continue
        if last is not None and at < last:
            yield Finding(place, "happened before the event above it")
        last = at
        if found.get("labcheck:voided") != "true":
            yield from _pair(found, open_, place)


def _pair(found: dict[str, str], open_: Counter[tuple[str, str]], place: str) -> Iterator[Finding]:
    stretch = found.get("concept:name", ""), found.get("concept:instance", "")
    if found.get("lifecycle:transition") == "start":
        if open_[stretch]:
            yield Finding(place, f'"{stretch[0]}" starts twice')
        open_[stretch] += 1
    elif found.get("lifecycle:transition") == "complete" and found.get("labcheck:kind", "").endswith(
        (".closed", ".stopped")
    ):
        if not open_[stretch]:
            yield Finding(place, f'"{stretch[0]}" completes without having started')
        open_[stretch] -= 1


def _numbers(event: ET.Element, place: str) -> Iterator[Finding]:
    readers = {"int": int, "float": float}
    for element in event:
        reader = readers.get(_tag(element))
        if reader is None:
            continue
        try:
            reader(element.get("value", ""))
        except ValueError:
            yield Finding(place, f"{element.get('key')} is not a number")


def _attributes(element: ET.Element) -> dict[str, str]:
    return {child.get("key", ""): child.get("value", "") for child in element}


def _tag(element: ET.Element) -> str:
    return str(element.tag).rpartition("}")[2]
