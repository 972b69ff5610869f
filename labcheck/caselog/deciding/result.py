"""What ``decide`` gives back, and the small writer that turns payloads into numbered events."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, Literal

from labcheck.caselog.case import Case
from labcheck.caselog.events import Event
from labcheck.caselog.holds import Unmet
from labcheck.caselog.intents import Intent
from labcheck.caselog.ordering import earlier, up_to
from labcheck.caselog.stamps import Mode, Moment, Stamp


@dataclass(frozen=True, slots=True)
class Decided:
    """The events of one press, to be appended together."""

    events: tuple[Event, ...]


@dataclass(frozen=True, slots=True)
class Refused:
    """Why nothing is recorded. ``needs``: what would make it go through.

    ``reason``: the same intent with a reason (a hold, a skipped stage). ``accept``: the same intent said a
    second time (a value outside its usual range). ``reset``: said again with the word that the counter began anew.
    ``none``: it cannot.
    """

    reason: str
    unmet: tuple[Unmet, ...] = ()
    needs: Literal["reason", "accept", "reset", "none"] = "none"


@dataclass
class Press:
    """One press being decided: where it happened, and the events written so far."""

    case: Case
    intent: Intent
    stamp: Stamp
    at: Moment
    mode: Mode
    precision_s: int
    late_reason: str | None
    from_mark: int | None
    written: list[Event] = field(default_factory=list)

    @property
    def known(self) -> Case:
        """The case as it was measured when it happened: a late call is judged by what was true at its own time."""
        return self.case if self.mode == "live" else up_to(self.case, self.at)

    def precedes(self, at: Moment, seq: int) -> bool:
        """Whether what is pressed happened before the moment of entry ``seq``.

        A live press does only where its own boot says so: it may have waited for its reason.
        """
        if self.mode == "live" and self.at.boot_id != at.boot_id:
            return False
        return earlier(self.case, self.at, self.case.head_seq + 1, at, seq)

    def write(self, what: Any, *, at: Moment | None = None, mode: Mode | None = None, epoch: int = 0) -> int:
        """Add an event with this payload and give its seq."""
        number = len(self.written) + 1
        seq = self.case.head_seq + number
        self.written.append(
            Event(
                case=self.case.key,
                seq=seq,
                id=f"{self.intent.press}-{number:02d}",
                press=self.intent.press,
                epoch=epoch or self.case.epoch,
                happened=at or self.at,
                entered=self.stamp,
                mode=mode or self.mode,
                precision_s=self.precision_s,
                late_reason=self.late_reason,
                from_mark=self.from_mark,
                recorder=self.case.recorder,
                what=what,
            )
        )
        return seq

    def done(self) -> Decided:
        """The events written, as the answer."""
        return Decided(tuple(self.written))
