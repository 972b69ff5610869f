"""What every ledger can do, whatever it keeps things in."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

from labcheck.caselog.events import CaseOpened, Event
from labcheck.caselog.stamps import Moment
from labcheck.checklist.words import Cusp
from labcheck.ledger.chain import Head, Record


@dataclass(frozen=True, slots=True)
class Ack:
    """The ledger's word that a press is saved.

    ``seqs``: its entries. ``head_hex``: the digest of the last of them. ``committed_wall_us``: when it was
    known to be durable, UTC microseconds. ``again``: it had been saved before and its ids were recognised.
    ``mirrored``: the case's mirror file has it too (if not, the next save or resume brings it up).
    """

    case: str
    seqs: tuple[int, ...]
    head_hex: str
    committed_wall_us: int
    again: bool = False
    mirrored: bool = True


@dataclass(frozen=True, slots=True)
class CaseLine:
    """One line of the list of cases. ``last``: when its last entry was entered."""

    case: str
    opened: Moment
    last: Moment
    entries: int
    sealed: bool
    rehearsal: bool
    technique: str
    targets: tuple[Cusp, ...]


class Ledger(Protocol):
    """An append-only store of cases. All methods may raise ``LedgerError``.

    Waits for other programs are bounded by half a second each; a disk that stalls can take longer, which is
    why the console appends through ``writer.Writer``.
    """

    def append(self, events: Sequence[Event]) -> Ack:
        """Save the events of one press together, or not at all; sending a saved press again is harmless.

        Raises ``NotSaved`` (``Busy``) if it may be tried again, ``StaleEpoch`` after a takeover, or ``Refused``.
        """
        ...

    def keep_checklist(self, text: bytes) -> str:
        """Keep a checklist's exact text and return its SHA-256 (hex). Keeping it twice is harmless."""
        ...

    def checklist_text(self, digest: str) -> bytes:
        """The text kept under a digest. Raises ``LedgerError`` if there is none."""
        ...

    def events(self, case: str) -> tuple[Event, ...]:
        """The events of a case in order; empty if there is no such case."""
        ...

    def records(self, case: str) -> tuple[Record, ...]:
        """The stored rows of a case, with their digests."""
        ...

    def head(self, case: str) -> Head:
        """Where the case stands; ``NO_HEAD`` if there is no such case."""
        ...

    def cases(self, *, unfinished_only: bool = False) -> list[CaseLine]:
        """All cases, the one opened last first."""
        ...

    def keys(self, *, rehearsals: bool) -> list[str]:
        """The keys of all real cases, or of all rehearsals, in order: for batches of any size."""
        ...

    def has(self, case: str) -> bool:
        """Is there such a case?"""
        ...

    def settle(self, case: str) -> int:
        """Compare a case with its second copy and bring that up to date; how many entries it lacked.

        Raises ``Damaged`` when the second copy has more, or other, than the ledger.
        """
        ...

    def reopen(self) -> None:
        """Let go of the store and take it up again, making durable whatever it then shows."""
        ...

    def close(self) -> None:
        """Close it. Closing twice is harmless."""
        ...


def opening_line(event: Event) -> tuple[Moment, str, tuple[Cusp, ...], bool]:
    """What the list of cases repeats from an opening event: when, technique, targets, rehearsal."""
    what = event.what
    if not isinstance(what, CaseOpened):
        raise TypeError(f"entry {event.seq} opens no case")
    return event.happened, what.plan.technique, what.plan.targets, what.rehearsal


def text_digest(text: bytes) -> str:
    """The digest a checklist's text is kept under: its plain SHA-256, hex."""
    return hashlib.sha256(text).hexdigest()
