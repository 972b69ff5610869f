"""Visits, attempts and energy bursts, as they stand after corrections."""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

from pydantic import Field

from labcheck.registry.columns import Column, Count, Row, Seconds, Time, clock, free, inside
from labcheck.registry.rows.fields import (
    CaseId,
    CuspColumn,
    Duration,
    DurationBasis,
    EndRel,
    EndTime,
    EntrySeq,
    Reason,
    ReasonCode,
    SpanQuality,
    Stage,
    StartLate,
    StartRel,
    StartTime,
)


class VisitRow(Row):
    """One visit to a stage, or one stage that had none."""

    case_id: CaseId
    place: Annotated[int, Field(ge=1), Column("Number of the row within the case.")]
    seq: Annotated[int | None, Column("Entry that opened the visit; empty for a stage without a visit.")]
    stage: Stage
    title: Annotated[str, inside("The stage's title in the checklist.")]
    cusp: CuspColumn
    visit: Annotated[Count | None, Column("Which visit to this stage on this cusp, from 1.")]
    state: Annotated[
        Literal["done", "left", "abandoned", "open", "skipped_by_decision", "skipped_by_call", "missing"],
        Column(
            "done as called; left for another stage; abandoned with its cusp; open (in a closed case: nobody "
            "said that it ended); skipped on purpose "
            "(by a decision or by a spoken call); missing (overtaken, nobody said why)."
        ),
    ]
    started_at: StartTime
    ended_at: EndTime
    start_rel_s: StartRel
    end_rel_s: EndRel
    duration_s: Duration
    duration_basis: DurationBasis
    time_quality: SpanQuality
    late: StartLate
    reason_code: ReasonCode
    reason: Reason

    KEY: ClassVar[tuple[str, ...]] = ("case_id", "place")


class AttemptRow(Row):
    """One numbered try on one cusp."""

    case_id: CaseId
    seq: EntrySeq
    stage: Stage
    cusp: Annotated[str, Column("The cusp.")]
    number: Annotated[
        int, Field(ge=1), Column("Number of the try on this cusp in this stage; runs on over visits.")
    ]
    started_at: StartTime
    ended_at: EndTime
    effect_at: Annotated[
        Time | None, clock("When it took effect: end of its last energy burst, or its result.")
    ]
    start_rel_s: StartRel
    end_rel_s: EndRel
    effect_rel_s: Annotated[
        Seconds | None, Column("When it took effect, counted from the opening of access.", "s")
    ]
    duration_s: Duration
    duration_basis: DurationBasis
    time_quality: SpanQuality
    outcome: Annotated[str | None, Column("Outcome, by its id in the checklist; empty while open.")]
    result: Annotated[
        Literal["success", "fault", "failed", "abandoned", "open"],
        Column("What the checklist counts that outcome as."),
    ]
    bursts: Annotated[
        Count | None,
        Column(
            "Energy bursts recorded in this try. 0: none was keyed; empty: none was, and the try (its start or its "
            "end) was entered after the fact, so nobody could key one."
        ),
    ]
    energy_s: Annotated[
        Seconds | None,
        Column(
            "Time energy was on in this try, all finished bursts together; empty where none was recorded, which is not "
            "zero, or where the length of one is not known.",
            "s",
        ),
    ]
    late: StartLate
    reason_code: ReasonCode
    reason: Reason

    KEY: ClassVar[tuple[str, ...]] = ("case_id", "seq")


class BurstRow(Row):
    """One energy burst."""

    case_id: CaseId
    seq: EntrySeq
    attempt_seq: Annotated[int, Column("seq of the attempt it belongs to.")]
    cusp: Annotated[str, Column("The cusp.")]
    started_at: StartTime
    ended_at: EndTime
    start_rel_s: StartRel
    end_rel_s: EndRel
    duration_s: Duration
    duration_basis: DurationBasis
    time_quality: SpanQuality
    watts: Annotated[Count | None, Column("Generator setting as recorded.", "W")]
    mode: Annotated[str | None, free("Generator mode as recorded.")]

    KEY: ClassVar[tuple[str, ...]] = ("case_id", "seq")
