"""What every derived row needs to know: which case, under which name, and where its clock starts."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from labcheck.caselog.case import Case
from labcheck.caselog.stamps import Moment, Stamp, known_span
from labcheck.registry.columns import Profile
from labcheck.registry.times import offset, rfc3339, seconds, since, whole_offset


@dataclass(frozen=True, slots=True)
class Frame:
    """A folded case about to leave.

    ``case_id`` and ``subject_id`` are the names it leaves under. ``origin`` is the opening of the access
    stage, zero of every relative time, or None where access was never opened. ``checklist_digest`` names the
    exact text of the checklist: outside the hospital by a keyed name, because the day on which a revision came
    into use is known there. ``shift_us`` is added to every clock time (whole weeks), and to nothing else. A shifted
    time carries no zone: an offset from UTC would tell summer from winter, and the part of the world. It is the local
    time of where and when the case was opened, written at +00:00, so that lengths stay what they were.
    """

    case: Case
    case_id: str
    subject_id: str | None
    profile: Profile
    origin: Moment | None
    checklist_digest: str
    shift_us: int = 0

    def at(self, moment: Moment | Stamp) -> str:
        """A moment as clock time."""
        if self.profile != "shifted":
            return rfc3339(moment)
        wall_us = moment.wall_us + whole_offset(self._local_s()) * 1_000_000 + self.shift_us
        return rfc3339(moment.model_copy(update={"wall_us": wall_us, "off_s": 0}))

    def offset(self, moment: Moment | Stamp) -> str:
        """The offset from UTC at which ``at`` writes this moment."""
        return "+00:00" if self.profile == "shifted" else offset(moment)

    def _local_s(self) -> int:
        return self.case.opened.off_s if self.case.opened is not None else 0

    def clock(self, moment: Moment | Stamp | None) -> str | None:
        """A moment as clock time, or None."""
        return self.at(moment) if moment is not None else None

    def reason_code(self, reason: str | None) -> str | None:
        """The id of a reason that the checklist offers, given by id or by its text."""
        offered = self.case.checklist.reason
        return next((r.id for r in offered if reason in (r.id, r.text)), None) if reason else None

    def rel(self, moment: Moment | None) -> float | None:
        """Seconds since access, or None where either end is missing."""
        found = since(self.origin, moment) if moment is not None else None
        return seconds(found.us) if found is not None else None

    def late(self, seq: int) -> bool:
        """Whether that entry was made after the fact."""
        event = self.case.event(seq)
        return event is not None and event.mode != "live"

    def stretch(self, start: Moment | None, end: Moment | None) -> dict[str, Any]:
        """The columns of a start and an end; no duration where a clock was set back over a restart in between."""
        length = known_span(start, end) if start is not None and end is not None else None
        return {
            "started_at": self.clock(start),
            "ended_at": self.clock(end),
            "start_rel_s": self.rel(start),
            "end_rel_s": self.rel(end),
            "duration_s": seconds(length.us) if length is not None else None,
            "duration_basis": length.basis if length is not None else None,
        }


def frame(
    case: Case,
    *,
    profile: Profile,
    case_id: str,
    subject_id: str | None,
    checklist_digest: str | None = None,
    shift_us: int = 0,
) -> Frame:
    """The frame of a case under these names; the checklist's own digest is its name where none is given."""
    named = checklist_digest or f"sha256:{case.checklist_digest}"
    return Frame(case, case_id, subject_id, profile, access_opened(case), named, shift_us)


def access_opened(case: Case) -> Moment | None:
    """When the access stage was first opened."""
    first = (v.start for v in case.visits if v.stage == case.checklist.access_stage)
    return next(first, None)


def number(value: Decimal | int | None) -> float | None:
    """An exact amount as the number that goes into a table; the log keeps the exact digits."""
    return float(value) if value is not None else None
