"""Whether a filter against stroke is still in the patient, by what the log says and not by what was decided."""

from __future__ import annotations

from collections.abc import Iterator

from labcheck.caselog.case import Case
from labcheck.caselog.ordering import by_happening
from labcheck.caselog.stamps import Moment

FILTERS_IN, FILTERS_OUT = "filters", "filters_out"
"""The steps at which filters open and come out, by their ids in the shipped checklists."""

DEVICE = "filters"
ITEM = "device:filters"


def filters_in(case: Case) -> bool:
    """Whether the last thing that happened to filters, as far as the log says, is that they went in.

    Steps and device entries both count. "Does not apply" or "not done" is no retrieval, and a device that
    failed is neither in nor out by that entry.
    """
    told = by_happening(case, _told(case))
    return bool(told) and told[-1]


def _told(case: Case) -> Iterator[tuple[Moment, int, bool]]:
    """When and by which entry they went in (true) or came out."""
    for (_, _, step), answer in case.answers.items():
        if step in (FILTERS_IN, FILTERS_OUT) and answer.what.answer in ("done", "value"):
            yield answer.at, answer.seq, step == FILTERS_IN
    for d in case.devices:
        if d.what.device == DEVICE and d.what.action in ("placed", "changed", "removed"):
            yield d.at, d.seq, d.what.action != "removed"
