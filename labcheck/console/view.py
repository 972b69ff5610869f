"""What the zones are drawn from: one frozen picture of the case at one instant.

``labcheck.console.viewing`` makes it; ``labcheck.console.zones`` draws it and computes nothing about the case.
A zone may read ``case`` for what it can look up at once (``case.visit``, ``case.attempt``, ``case.burst``), never
scan the log: a case may hold a thousand entries and a key press has a few milliseconds.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from labcheck.checklist.unfolding import Slot

if TYPE_CHECKING:
    from labcheck.caselog.case import Case
    from labcheck.caselog.figures import BigClock, Figure
    from labcheck.caselog.holds import Unmet
    from labcheck.caselog.prompts import Prompt
    from labcheck.caselog.stamps import Stamp
    from labcheck.caselog.steps import StepLine
    from labcheck.caselog.trace import Trace

SaveState = Literal["idle", "writing", "slow", "saved", "not_saved"]


@dataclass(frozen=True, slots=True)
class FooterKey:
    """One key as the bottom row shows it: the key's printed name and one short word."""

    key: str
    word: str


@dataclass(frozen=True, slots=True)
class Expected:
    """The call that is expected: what the operator will say, and what is not yet true before it.

    ``words`` already carries the cusp ("Wire across, right"). ``then`` is the call after that one, or "".
    """

    slot: Slot
    words: str
    unmet: tuple[Unmet, ...] = ()
    then: str = ""


@dataclass(frozen=True, slots=True)
class TailLine:
    """One entry of the log as the tail shows it. ``late`` is "LATE +2:30" or "", ``mark`` what became of it."""

    seq: int
    clock: str
    words: str
    late: str = ""
    mark: Literal["", "void", "amended"] = ""


@dataclass(frozen=True, slots=True)
class Save:
    """What became of the last press. ``words`` is one line: "saved 143 14:31:24", "NOT SAVED: disk full; ...".

    ``waiting`` counts the presses that are stamped but not yet written.
    """

    state: SaveState = "idle"
    words: str = ""
    waiting: int = 0


@dataclass(frozen=True, slots=True)
class View:
    """The case at ``now``, ready to draw.

    ``stage_us`` / ``since_access_us``: microseconds in the open visit / since access, None where there is none.
    ``big``: the clock that takes the large place while it runs (since laceration), else None.
    ``steps`` belong to ``steps_title`` (the stage, or the open bailout); ``step_at`` is the highlighted index.
    ``answer``: one line in reply to the last press (why a call was refused, "again to accept"), or "".
    ``tail``: oldest first, as many as the largest layout can use. ``panel``: the open panel's id, or None.
    ``quiet``: the present stage allows nothing unasked. ``silent``: "last press 5:12", or "".
    ``read_only``: another console has the case, and here it is only looked at.
    ``plain``: only ASCII may be drawn. ``mono``: no colour may be relied on (it never carries meaning alone).
    """

    case: Case
    now: Stamp
    technique: str = ""
    stage_title: str = ""
    stage_big: str = ""
    stage_us: int | None = None
    since_access_us: int | None = None
    big: BigClock | None = None
    expected: Expected | None = None
    steps_title: str = ""
    steps: tuple[StepLine, ...] = ()
    step_at: int = 0
    figures: tuple[Figure, ...] = ()
    prompt: Prompt | None = None
    silent: str = ""
    trace: Trace | None = None
    tail: tuple[TailLine, ...] = ()
    save: Save = Save()
    answer: str = ""
    keys: tuple[FooterKey, ...] = ()
    panel: str | None = None
    quiet: bool = False
    read_only: bool = False
    plain: bool = False
    mono: bool = False
