"""The case as a whole, its rescues, intervals and deviations."""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

from pydantic import Field

from labcheck.registry.columns import (
    Column,
    Count,
    Digest,
    Id,
    Offset,
    Row,
    Seconds,
    TextDigest,
    Time,
    clock,
    free,
    inside,
)
from labcheck.registry.rows.fields import (
    CaseId,
    CuspColumn,
    Duration,
    DurationBasis,
    EndRel,
    EndTime,
    EntrySeq,
    NoteText,
    OstiumColumn,
    Quality,
    SpanQuality,
    StartRel,
    StartTime,
)


class CaseRow(Row):
    """One case: its plan and its whole.

    The rest of the plan (CT measurements of the coronaries, hinge points,
    planned views, boundary signs, roles) and who signed the seal are only in the hospital's JSON document.
    """

    case_id: CaseId
    subject_id: Annotated[
        Id | None,
        Column(
            "The patient as the study knows them: S- and the study number; under registry and shifted Q- and "
            "a keyed pseudonym of it. Empty where no study number was given."
        ),
    ]
    profile: Annotated[
        Literal["hospital", "registry", "shifted"],
        Column(
            "hospital keeps times, free text and recorder tags; registry carries none of them; shifted is "
            "registry with clock times moved by a secret number of whole weeks."
        ),
    ]
    rehearsal: Annotated[bool, Column("true: this is not a real case and must not be counted.")]
    year: Annotated[
        int | None,
        Column("Year in which the case was opened, at the local offset; empty where times are shifted."),
    ]
    opened_at: Annotated[Time | None, clock("Clock time at which the case was opened.")]
    access_at: Annotated[
        Time | None, clock("Clock time at which the access stage opened: zero of every _rel_s.")
    ]
    sealed_at: Annotated[Time | None, clock("Clock time at which the case was closed.")]
    utc_offset: Annotated[Offset | None, clock("Offset from UTC in force when the case was opened.")]
    sealed: Annotated[bool, Column("Whether the case was signed out and closed.")]
    technique: Annotated[str | None, Column("Technique, as in the plan.")]
    substrate: Annotated[str | None, Column("What is treated: native, surgical or transcatheter valve.")]
    mounting: Annotated[
        str | None, Column("How a surgical valve's leaflets are mounted: inside, outside, stentless.")
    ]
    targets: Annotated[str, Column("Target cusps in planned order, separated by ;.")]
    protection_planned: Annotated[
        str | None,
        Column(
            "Ostia with coronary protection planned, separated by ;. The word none: the plan names none. Empty: there "
            "is no plan."
        ),
    ]
    valve_class: Annotated[str | None, free("Intended valve class, as in the plan.")]
    access: Annotated[str | None, free("Access, as in the plan.")]
    age_years: Annotated[
        Count | None, Column("Age; under registry and shifted 90 stands for 90 and more.", "years")
    ]
    sex: Annotated[str | None, Column("female or male, as in the plan.")]
    weight_kg: Annotated[Seconds | None, Column("Body weight.", "kg")]
    height_cm: Annotated[Seconds | None, Column("Height.", "cm")]
    creatinine: Annotated[Seconds | None, Column("Serum creatinine before the case, in the unit beside it.")]
    creatinine_unit: Annotated[Literal["mg/dL", "umol/L"] | None, Column("Unit of the creatinine.")]
    baseline_act_s: Annotated[
        Seconds | None,
        Column(
            "Activated clotting time before heparin, as in the plan; one taken in the room is in readings.",
            "s",
        ),
    ]
    checklist_id: Annotated[str, Column("The checklist the case was run with.")]
    checklist_revision: Annotated[str, inside("Its revision.")]
    checklist_digest: Annotated[
        TextDigest,
        Column(
            "Its exact text: sha256: and the SHA-256 of it, as in the codebook; under registry and shifted keyed: and "
            "a keyed name. The same text has the same name."
        ),
    ]
    entries: Annotated[Count, Column("Entries in the log.")]
    late_entries: Annotated[Count, Column("Entries made after the fact that still count.")]
    voided_entries: Annotated[Count, Column("Entries that no longer count.")]
    attempts: Annotated[Count, Column("Attempts that count, all cusps and stages.")]
    bailouts: Annotated[Count, Column("Rescues that count.")]
    energy_s: Annotated[
        Seconds | None,
        Column(
            "Time energy was on in the whole case, as far as it was recorded; empty where no finished burst was, which "
            "is not zero, or where the length of one is not known.",
            "s",
        ),
    ]
    head: Annotated[Digest, inside("sha256: and the digest of the last entry, the head of the log.")]


class BailoutRow(Row):
    """One rescue."""

    case_id: CaseId
    seq: EntrySeq
    bailout: Annotated[str, Column("The rescue path, by its id in the checklist.")]
    endpoint: Annotated[
        str, Column("What it means for endpoints by its checklist: see the list What a rescue means.")
    ]
    cusp: CuspColumn
    ostium: OstiumColumn
    started_at: StartTime
    ended_at: EndTime
    start_rel_s: StartRel
    end_rel_s: EndRel
    duration_s: Duration
    duration_basis: DurationBasis
    time_quality: SpanQuality
    outcome: Annotated[str | None, Column("How it ended, by its id in the checklist; empty while open.")]
    leads_to: Annotated[str | None, Column("Where it led: carry_on, abandon_cusp, jump or convert.")]
    note: NoteText

    KEY: ClassVar[tuple[str, ...]] = ("case_id", "seq")


class IntervalRow(Row):
    """One interval between two named moments."""

    case_id: CaseId
    place: Annotated[int, Field(ge=1), Column("Number of the row within the case.")]
    interval: Annotated[
        str,
        Column(
            "The interval, by its id in the checklist (the codebook says between which moments it lies; pool it only "
            "within one checklist); others by their own: visit:STAGE:CUSP:NUMBER, "
            "stage:STAGE:CUSP, attempt:STAGE:CUSP:NUMBER, bailout:BAILOUT:SEQ, without what does not apply."
        ),
    ]
    of: Annotated[
        Literal["interval", "visit", "stage", "attempt", "bailout"],
        Column(
            "What it measures: an interval of the checklist, one visit, all visits to a stage together, an "
            "attempt or a rescue."
        ),
    ]
    title: Annotated[str, inside("The interval in words.")]
    state: Annotated[
        Literal["done", "running", "missing", "skipped"],
        Column(
            "done; running (no end yet); missing (no start, or an end that cannot be); skipped (the stage it "
            "begins or ends with was passed over on purpose)."
        ),
    ]
    cusp: CuspColumn
    visit: Annotated[Count | None, Column("Which visit, from 1.")]
    start_seq: Annotated[int | None, Column("Entry that is its start.")]
    end_seq: Annotated[int | None, Column("Entry that is its end.")]
    started_at: StartTime
    ended_at: EndTime
    start_rel_s: StartRel
    end_rel_s: EndRel
    duration_s: Annotated[
        Seconds | None,
        Column(
            "How long; for a stage all visits added up, which may be shorter than from start to end. Empty where an "
            "end is missing, or where the wall clock was set back over a restart in between.",
            "s",
        ),
    ]
    duration_basis: DurationBasis
    time_quality: Annotated[
        Quality | None,
        Column(
            "The worst of its ends as they stand, of a stage those of all its visits: measured (by this console's "
            "clock at a press), estimated (told by a person: entered late, or amended), unsynchronized (not from this "
            "console's clock at all: paper). While it has no end, that of its start; empty without a time."
        ),
    ]
    provisional: Annotated[
        bool, Column("Whether an end is only likely: energy was off, no outcome recorded.")
    ]

    KEY: ClassVar[tuple[str, ...]] = ("case_id", "place")


class TotalRow(Row):
    """One running figure of the checklist as it stands at the end of the log: what was given, read or counted."""

    case_id: CaseId
    total: Annotated[
        str, Column("The figure, by its id in the checklist (contrast, heparin, pacing_runs ...).")
    ]
    of: Annotated[
        Literal["sum", "latest", "cumulative", "count", "seconds"],
        Column(
            "sum of doses; latest reading; cumulative reading, added up over stated resets; count or seconds of "
            "what was switched on and off."
        ),
    ]
    value: Annotated[
        Seconds | None, Column("The figure; empty where nothing was recorded, which is not zero.")
    ]
    unit: Annotated[str | None, Column("Its unit; readings in other units are converted.")]
    left_out: Annotated[
        Count, Column("Entries that are not in it: doses without an amount, units that cannot be converted.")
    ]
    seq: Annotated[int | None, Column("Last entry that is in it.")]

    KEY: ClassVar[tuple[str, ...]] = ("case_id", "total")


class DeviationRow(Row):
    """One place where the case went otherwise than the checklist says. A fact, not a judgement."""

    case_id: CaseId
    place: Annotated[int, Field(ge=1), Column("Number of the row within the case.")]
    deviation: Annotated[
        str,
        Column(
            "missing, skipped, inverted, rework, late_step, hold_passed, late_entry or correction: see the list "
            "Deviations, which says what each counts."
        ),
    ]
    seq: Annotated[int | None, Column("Entry that it is about.")]
    words: Annotated[str, free("The deviation in words.")]

    KEY: ClassVar[tuple[str, ...]] = ("case_id", "place")
