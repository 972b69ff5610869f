"""What the console runs cases with: the ledger, its writer, the shelf of checklists, and the way back to its thread."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import Future
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

if TYPE_CHECKING:
    from labcheck.caselog.events import Event
    from labcheck.caselog.stamps import Moment
    from labcheck.ledger.contract import Ledger

Deliver = Callable[[Callable[[], None]], None]
"""Runs a callable on the thread that owns the session (in the console: the event loop)."""


class Writes(Protocol):
    """The writer thread, seen from here."""

    def submit(self, events: Sequence[Event]) -> Future[Any]: ...
    def retry(self) -> Future[Any]: ...
    def keep(self, press: Sequence[Event]) -> None: ...
    def keep_words(self, case: str, words: str, at: Moment) -> None: ...
    def see(self, case: str, keys: Sequence[str]) -> None: ...


class Shelf(Protocol):
    """Where checklists are chosen from."""

    def names(self) -> Sequence[str]: ...
    def text(self, name: str) -> bytes: ...


@dataclass(frozen=True, slots=True)
class Bench:
    """What a case is run with: the ledger, its writer, and the way back to the console's thread.

    ``folder``: where a side file of unsaved presses may lie; None for a ledger in memory.
    """

    ledger: Ledger
    writer: Writes
    deliver: Deliver
    folder: Path | None = None
