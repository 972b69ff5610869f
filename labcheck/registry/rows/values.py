"""Readings, doses, runs, step answers, decisions and clock comparisons, as they stand after corrections."""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

from labcheck.registry.columns import Column, Count, Row, Seconds, Time, clock, free
from labcheck.registry.rows.fields import (
    AtRel,
    AtTime,
    CaseId,
    CuspColumn,
    Duration,
    DurationBasis,
    EndRel,
    EndTime,
    EntrySeq,
    Late,
    NoteText,
    OstiumColumn,
    Reason,
    ReasonCode,
    SpanQuality,
    Stage,
    StartRel,
    StartTime,
    Unit,
)


class ReadingRow(Row):
    """One measured value or coded finding, as it stands."""

    case_id: CaseId
    seq: EntrySeq
    reading: Annotated[str, Column("What was measured, by its id in the checklist.")]
    cusp: CuspColumn
    ostium: OstiumColumn
    taken_at: AtTime
    taken_rel_s: AtRel
    sampled_at: Annotated[Time | None, clock("When the sample was sent, for samples.")]
    sampled_rel_s: Annotated[Seconds | None, Column("When the sample was sent, counted from access.", "s")]
    value: Annotated[Seconds | None, Column("The number, in the unit beside it.")]
    unit: Unit
    choice: Annotated[str | None, Column("The finding, by its id in the checklist.")]
    judged_by: Annotated[str | None, Column("The role or method that judged it, by its id in the checklist.")]
    judge: Annotated[str | None, Column("Who judged it: a role of the checklist, never a name.")]
    outside: Annotated[bool, Column("Whether it was accepted although outside the checklist's soft range.")]
    reset: Annotated[bool, Column("Whether a cumulative reading was said to start anew.")]
    amended: Annotated[bool, Column("Whether it was corrected after it was first entered.")]
    late: Late
    note: NoteText

    KEY: ClassVar[tuple[str, ...]] = ("case_id", "seq")


class DoseRow(Row):
    """One drug given, as it stands."""

    case_id: CaseId
    seq: EntrySeq
    drug: Annotated[str, Column("The drug, by its id in the checklist.")]
    given_at: AtTime
    given_rel_s: AtRel
    amount: Annotated[Seconds | None, Column("Amount, in the unit beside it; empty where it was not said.")]
    unit: Unit
    amended: Annotated[bool, Column("Whether it was corrected after it was first entered.")]
    late: Late
    note: NoteText

    KEY: ClassVar[tuple[str, ...]] = ("case_id", "seq")


class RunRow(Row):
    """One on-off spell of something counted: pacing, compressions, a balloon."""

    case_id: CaseId
    seq: EntrySeq
    run: Annotated[str, Column("What was on, by its id in the checklist.")]
    cusp: CuspColumn
    started_at: StartTime
    ended_at: EndTime
    start_rel_s: StartRel
    end_rel_s: EndRel
    duration_s: Duration
    duration_basis: DurationBasis
    time_quality: SpanQuality
    rate: Annotated[Seconds | None, Column("Rate as entered, in the unit beside it.")]
    unit: Unit

    KEY: ClassVar[tuple[str, ...]] = ("case_id", "seq")


class StepRow(Row):
    """The last answer to one step, in a rescue to one step of each rescue.

    A step that was never answered has no row; earlier answers are in ``events``.
    """

    case_id: CaseId
    seq: EntrySeq
    stage: Stage
    cusp: CuspColumn
    visit: Annotated[
        Count | None,
        Column(
            "Visit to that stage on that leaflet in which it was answered, from 1; empty in a rescue, and for an "
            "answer to a stage that had no visit."
        ),
    ]
    opened_seq: Annotated[
        int | None,
        Column(
            "seq of the visit (in stages) or of the rescue (in bailouts) in which it was answered, if it was in one."
        ),
    ]
    step: Annotated[str, Column("The step, by its id in the checklist.")]
    killer: Annotated[bool, Column("Whether the checklist calls its omission harmful at once.")]
    answer: Annotated[Literal["done", "not_done", "not_applicable", "value"], Column("How it was answered.")]
    option: Annotated[
        str | None,
        Column(
            "The option or device chosen, by its id in the checklist; where to look it up: see Ids and the codebook."
        ),
    ]
    value: Annotated[
        Seconds | None, Column("The number, where the step asks for one, in the unit beside it.")
    ]
    answered_at: AtTime
    answered_rel_s: AtRel
    value_text: Annotated[
        str | None,
        free(
            "The value, as answered; a later correction of a reading or dose stands in readings or doses. A view is "
            "two signed degrees, LAO and cranial positive: -12 18 is RAO 12, cranial 18. Outside the hospital a step "
            "that asks for a view, a time or a text says answer = value and no more."
        ),
    ]
    unit: Unit
    late: Late
    reason_code: ReasonCode
    reason: Reason

    KEY: ClassVar[tuple[str, ...]] = ("case_id", "seq")


class DecisionRow(Row):
    """One decision as it stands."""

    case_id: CaseId
    seq: EntrySeq
    decision: Annotated[str, Column("The decision, by its id in the checklist.")]
    choice: Annotated[str, Column("The option taken, by its id in the checklist.")]
    made_at: AtTime
    made_rel_s: AtRel
    reason_code: ReasonCode
    reason: Reason

    KEY: ClassVar[tuple[str, ...]] = ("case_id", "seq")


class ClockRow(Row):
    """One comparison of another clock with this console. Stored times are never shifted by it."""

    case_id: CaseId
    seq: EntrySeq
    clock: Annotated[
        str,
        Column(
            "Which clock was read: imaging, or another by the word that was typed (outside the hospital: other)."
        ),
    ]
    compared_at: AtTime
    compared_rel_s: AtRel
    clock_offset_s: Annotated[Seconds, Column("What that clock showed minus what this console showed.", "s")]
    uncertainty_s: Annotated[Seconds, Column("How far the offset may be out, either way.", "s")]
    resolution_s: Annotated[Seconds, Column("Smallest step that the other clock shows.", "s")]

    KEY: ClassVar[tuple[str, ...]] = ("case_id", "seq")
