"""Who hears what became of a press: the screen of the case, or nobody any more while the program ends."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Protocol

from labcheck.caselog.deciding import Refused
from labcheck.caselog.events import Event
from labcheck.caselog.intents import Intent
from labcheck.caselog.stamps import Stamp
from labcheck.console.unwritten import Unwritten, refused


class Acknowledged(Protocol):
    """What the ledger says once the events are committed."""

    @property
    def seqs(self) -> tuple[int, ...]: ...
    @property
    def head_hex(self) -> str: ...


class Listener(Protocol):
    """Who is told. Every call comes on the session's own thread."""

    def case_changed(self, events: tuple[Event, ...]) -> None: ...
    def refused(self, refusal: Refusal) -> None: ...
    def save_changed(self) -> None: ...


@dataclass(frozen=True, slots=True)
class Refusal:
    """A press that became nothing: why, what was meant, and when it was pressed (to send it again)."""

    why: Refused
    intent: Intent
    stamp: Stamp


@dataclass(slots=True)
class Unseen:
    """Hears for a screen that is gone: what became nothing there was never shown to anybody."""

    presses: list[Unwritten] = field(default_factory=list)

    def case_changed(self, events: tuple[Event, ...]) -> None: ...

    def save_changed(self) -> None: ...

    def refused(self, refusal: Refusal) -> None:
        self.presses.append(refused(refusal.intent, refusal.stamp))
