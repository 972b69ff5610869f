"""Checking a DICOM procedure log: the rules of PS3.3 A.35.7 and PS3.16 TID 3001 and 3100 that readers let pass."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import datetime
from functools import cache
from pathlib import Path
from typing import Any

from pydicom import dcmread
from pydicom.dataset import Dataset
from pydicom.errors import InvalidDicomError
from pydicom.sr._cid_dict import cid_concepts
from pydicom.sr._concepts_dict import concepts

from labcheck.checklist.complaint import shown
from labcheck.registry.checking.dicom_ends import EXPLICIT_LITTLE_ENDIAN, ends_whole
from labcheck.registry.checking.finding import Finding

PROCEDURE_LOG = "1.2.840.10008.5.1.4.1.1.88.40"
UTC_FRAME = "1.2.840.10008.15.1.1"
VALUES = {"TEXT": "TextValue", "CODE": "ConceptCodeSequence", "NUM": "MeasuredValueSequence",
          "DATETIME": "DateTime", "DATE": "Date", "TIME": "Time", "UIDREF": "UID", "PNAME": "PersonName",
          "COMPOSITE": "ReferencedSOPSequence", "IMAGE": "ReferencedSOPSequence",
          "WAVEFORM": "ReferencedSOPSequence"}  # fmt: skip
"""Value types a procedure log may hold, and the element that carries each value."""

CHOICES = {"121130": 3405, "121131": 3405, "121132": 3405, "121133": 3405, "121123": 3402, "116224001": 3413,
           "121135": 3430, "121005": 270}  # fmt: skip
"""Concept name to the context group its value comes from; codes of a private scheme (99...) are let pass."""

START, END = "121130", "121131"
ACTION_ID, OBSERVER_TYPE, PERSON_NAME, DEVICE_UID = "121124", "121005", "121008", "121012"
_DT = re.compile(r"(\d{14})(\.\d{1,6})?([+-]\d{4})")


def check_log(path: Path) -> Iterator[Finding]:
    """Everything wrong with a procedure log."""
    try:
        data = dcmread(path)
        syntax = data.file_meta.get("TransferSyntaxUID")
        if syntax in (None, EXPLICIT_LITTLE_ENDIAN) and not ends_whole(path.read_bytes()):
            yield Finding(
                "", "ends in the middle of an element: it is cut off or damaged, export or copy it again"
            )
        yield from _heading(data)
        root = list(data.get("ContentSequence", []))
        yield from _observers(root)
        yield from _entries(root)
        yield from _actions(root, complete=data.get("CompletionFlag") == "COMPLETE")
        for number, item in enumerate(root, 1):
            yield from _item(item, f"item {number}")
    except (InvalidDicomError, OSError, AttributeError, ValueError, NotImplementedError, EOFError) as fault:
        yield Finding("", f"cannot be read as DICOM: {type(fault).__name__}: {shown(str(fault))}")


def _heading(data: Dataset) -> Iterator[Finding]:
    if data.get("SOPClassUID") != PROCEDURE_LOG:
        yield Finding("SOPClassUID", "is not Procedure Log Storage")
    if _name(data) != ("121120", "DCM"):
        yield Finding("title", "must be (121120, DCM, Cath Lab Procedure Log)")
    if data.get("ValueType") != "CONTAINER" or not data.get("ContentSequence"):
        yield Finding("content", "is empty, or its root is not a container")
    for keyword in (
        "SynchronizationFrameOfReferenceUID",
        "SynchronizationTrigger",
        "AcquisitionTimeSynchronized",
    ):
        if not data.get(keyword):
            yield Finding(keyword, "is missing from the Synchronization module")
    utc = data.get("SynchronizationFrameOfReferenceUID") == UTC_FRAME
    if utc and data.get("AcquisitionTimeSynchronized") != "Y":
        yield Finding(
            "SynchronizationFrameOfReferenceUID", "claims UTC while the clock is said not to be synchronised"
        )


def _observers(root: list[Dataset]) -> Iterator[Finding]:
    context = [item for item in root if item.get("RelationshipType") == "HAS OBS CONTEXT"]
    names = {_name(item)[0] for item in context}
    if OBSERVER_TYPE not in names or not names & {PERSON_NAME, DEVICE_UID}:
        yield Finding(
            "observer", "nobody is said to have watched (TID 1002: observer type, and a name or UID)"
        )


def _entries(root: list[Dataset]) -> Iterator[Finding]:
    last: datetime | None = None
    for number, item in enumerate(root, 1):
        if item.get("RelationshipType") != "CONTAINS":
            continue
        where = f"item {number} ({_meaning(item)})"
        given = item.get("ObservationDateTime")
        if given is None or str(given) == "":
            yield Finding(where, "has no Observation DateTime")
            continue
        try:
            at = date_time(str(getattr(given, "original_string", given)))
        except ValueError as fault:
            yield Finding(where, str(fault))
            continue
        if last is not None and at <= last:
            yield Finding(where, "does not come after the entry before it")
        last = at


def date_time(text: str) -> datetime:
    """A DICOM date and time, to the second or finer, with its offset. Raises ``ValueError`` otherwise."""
    found = _DT.fullmatch(text.strip())
    if found is None:
        raise ValueError(f"Observation DateTime {text[:30]} is not exact to the second, or has no offset")
    fraction = (found[2] or ".0")[1:].ljust(6, "0")
    try:
        return datetime.strptime(f"{found[1]}.{fraction}{found[3]}", "%Y%m%d%H%M%S.%f%z")
    except ValueError:
        raise ValueError(f"Observation DateTime {text[:30]} is not in the calendar") from None


def _actions(root: list[Dataset], *, complete: bool) -> Iterator[Finding]:
    running: dict[str, str] = {}
    seen: set[str] = set()
    for number, item in enumerate(root, 1):
        code = _name(item)[0]
        if code not in (START, END):
            continue
        where = f"item {number} ({_meaning(item)})"
        ids = [
            str(i.get("TextValue", "")) for i in item.get("ContentSequence", []) if _name(i)[0] == ACTION_ID
        ]
        if len(ids) != 1 or not ids[0]:
            yield Finding(where, "needs one action id (121124)")
        elif code == START and ids[0] in seen:
            yield Finding(where, f'starts action "{ids[0]}", which was started before')
        elif code == START:
            running[ids[0]] = where
            seen.add(ids[0])
        elif running.pop(ids[0], None) is None:
            yield Finding(where, f'ends action "{ids[0]}", which is not running')
    if complete:
        for action, where in running.items():
            yield Finding(where, f'action "{action}" never ends, though the log is said to be complete')


def _item(item: Dataset, where: str) -> Iterator[Finding]:
    type_ = str(item.get("ValueType", ""))
    if item.get("ReferencedContentItemIdentifier"):
        yield Finding(where, "points to another item; a procedure log may not")
        return
    if type_ not in VALUES:
        yield Finding(
            where, f"value type {type_ or 'missing'} may not stand below the root of a procedure log"
        )
        return
    where = f"{where} ({_meaning(item)})"
    if _name(item) == ("", ""):
        yield Finding(where, "has no concept name")
    if not item.get(VALUES[type_]):
        yield Finding(where, f"{type_} has no value")
    yield from _codes(item, where)
    for number, inner in enumerate(item.get("ContentSequence", []), 1):
        if inner.get("RelationshipType") == "CONTAINS":
            yield Finding(f"{where}.{number}", "is contained by an entry; a procedure log is flat")
        yield from _item(inner, f"{where}.{number}")


def _codes(item: Dataset, where: str) -> Iterator[Finding]:
    name = _name(item)
    values = [_code(value) for value in item.get("ConceptCodeSequence", [])]
    for code, scheme in (name, *values):
        if scheme == "DCM" and code not in _dicom_codes():
            yield Finding(where, f"DICOM defines no code {code}")
    group = CHOICES.get(name[0])
    for code, scheme in values if group is not None else ():
        if not scheme.startswith("99") and code not in _members(group, scheme):
            yield Finding(where, f"value ({code}, {scheme}) is not in context group {group}")


@cache
def _dicom_codes() -> frozenset[str]:
    dictionary: Any = concepts["DCM"]
    return frozenset(code for codes in dictionary.values() for code in codes)


@cache
def _members(group: int, scheme: str) -> frozenset[str]:
    dictionary: Any = concepts
    words = cid_concepts.get(group, {}).get(scheme, ())
    return frozenset(
        code for word in words for code, (_, groups) in dictionary[scheme][word].items() if group in groups
    )


def _code(item: Dataset) -> tuple[str, str]:
    value: Any = item.get("CodeValue") or item.get("LongCodeValue") or ""
    return str(value), str(item.get("CodingSchemeDesignator", ""))


def _name(item: Dataset) -> tuple[str, str]:
    names = item.get("ConceptNameCodeSequence") or []
    return _code(names[0]) if len(names) else ("", "")


def _meaning(item: Dataset) -> str:
    names = item.get("ConceptNameCodeSequence") or []
    return str(names[0].get("CodeMeaning", "")) if len(names) else "no concept"
