"""Whether a filter against stroke is still in the patient, by what the log says and not by what was decided."""

from __future__ import annotations

from collections.abc import Iterator

from labcheck.caselog.case import Case

FILTERS_IN, FILTERS_OUT = "filters", "filters_out"
"""The steps at which filters open and come out, by their ids in the shipped checklists."""

DEVICE = "filters"
ITEM = "device:filters"


def filters_in(case: Case) -> bool:
    """Whether the last entry about filters says that they went in.

    Steps and device entries both count. "Does not apply" or "not done" is no retrieval, and a device that
    failed is neither in nor out by that entry.
    """
    placed = max(_went_in(case), default=0)
    return placed > max(_came_out(case), default=0)


def _went_in(case: Case) -> Iterator[int]:
    for (_, _, step), answer in case.answers.items():
        if step == FILTERS_IN and answer.what.answer in ("done", "value"):
            yield answer.seq
    yield from (
        d.seq for d in case.devices if d.what.device == DEVICE and d.what.action in ("placed", "changed")
    )


def _came_out(case: Case) -> Iterator[int]:
    for (_, _, step), answer in case.answers.items():
        if step == FILTERS_OUT and answer.what.answer in ("done", "value"):
            yield answer.seq
    yield from (d.seq for d in case.devices if d.what.device == DEVICE and d.what.action == "removed")
