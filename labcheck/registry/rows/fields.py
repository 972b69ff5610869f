"""The columns that several tables share."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from labcheck.caselog.stamps import Basis
from labcheck.registry.columns import Column, Id, Seconds, Time, clock, free

CaseId = Annotated[
    Id, Column("The case: C- and the case key; under registry and shifted P- and a keyed pseudonym.")
]
EntrySeq = Annotated[
    int, Field(ge=1), Column("Number of the log entry that began this row; its id within the case.")
]
Stage = Annotated[str, Column("Stage of the checklist, by its id there (bailout:id inside a rescue).")]
CuspColumn = Annotated[
    str | None,
    Column(
        "The leaflet it belongs to: left, right, noncoronary, fused or anterior_mitral; empty where to none."
    ),
]
OstiumColumn = Annotated[str | None, Column("The coronary ostium it belongs to: left or right.")]
StartTime = Annotated[Time | None, clock("Clock time of the start, at the offset then in force.")]
EndTime = Annotated[Time | None, clock("Clock time of the end; empty while it runs or if it is not known.")]
StartRel = Annotated[
    Seconds | None, Column("Start, counted from the opening of the access stage; negative before it.", "s")
]
EndRel = Annotated[Seconds | None, Column("End, counted from the opening of the access stage.", "s")]
Duration = Annotated[
    Seconds | None,
    Column(
        "End minus start; empty where an end is missing, or where the wall clock was set back over a restart in "
        "between, so that nobody knows how long it was.",
        "s",
    ),
]
DurationBasis = Annotated[
    Basis | None,
    Column(
        "Clock that carries the arithmetic of the duration: boot (steady), or wall (may hold a clock step). It does "
        "not say that both ends were pressed as they happened: time_quality does."
    ),
]
Quality = Literal["measured", "estimated", "unsynchronized"]
"""How far a time can be trusted, from the best to the worst."""
SpanQuality = Annotated[
    Quality | None,
    Column(
        "The worse of its start and its end as they stand: measured (both by this console's clock at a press), "
        "estimated (one was told by a person: entered late, or amended), unsynchronized (one is not from this "
        "console's clock at all: paper). While it has no end, that of its start; empty without a time."
    ),
]
AtTime = Annotated[Time, clock("Clock time at which it happened.")]
AtRel = Annotated[
    Seconds | None, Column("When it happened, counted from the opening of the access stage.", "s")
]
Late = Annotated[bool, Column("Whether it was entered after the fact (late, amended or transcribed).")]
StartLate = Annotated[
    bool,
    Column(
        "Whether its start was entered after the fact (late, amended or transcribed); its end may have been so "
        "too: see time_quality."
    ),
]
Reason = Annotated[str | None, free("The reason that was given.")]
NoteText = Annotated[str | None, free("Free text that was typed with it.")]
ReasonCode = Annotated[
    str | None, Column("The reason, by its id in the checklist, where it is one of those offered there.")
]
Unit = Annotated[str | None, Column("Unit of the value, as entered.")]
