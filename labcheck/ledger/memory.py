"""The ledger's twin in memory: the same rules, the same chain, nothing kept. For tests and trying out."""

from __future__ import annotations

import time
from collections.abc import Sequence

from labcheck.caselog.events import Event
from labcheck.ledger.admission import admit, checklist_needed, one_press
from labcheck.ledger.canonical import NotCanonical
from labcheck.ledger.chain import FIRST_PREV, Head, Record, head_of, link_all, same_content
from labcheck.ledger.contract import Ack, CaseLine, opening_line, text_digest
from labcheck.ledger.errors import LedgerError, NotSaved, Refused


class MemoryLedger:
    """A ``Ledger`` that lives as long as the program."""

    def __init__(self) -> None:
        self._records: dict[str, list[Record]] = {}
        self._by_id: dict[str, Record] = {}
        self._texts: dict[str, bytes] = {}
        self._closed = False

    def append(self, events: Sequence[Event]) -> Ack:
        """See ``Ledger.append``."""
        if self._closed:
            raise NotSaved("the ledger is closed; open it again")
        case = one_press(events)
        saved = self._saved_before(events)
        records = saved if saved is not None else self._chained(events)
        if saved is None:
            self._records.setdefault(case, []).extend(records)
            self._by_id.update((record.event_id, record) for record in records)
        return Ack(
            case=case,
            seqs=tuple(record.seq for record in records),
            head_hex=records[-1].hash.hex(),
            committed_wall_us=time.time_ns() // 1000,
            again=saved is not None,
        )

    def keep_checklist(self, text: bytes) -> str:
        """See ``Ledger.keep_checklist``."""
        return self._keep(text_digest(text), text)

    def checklist_text(self, digest: str) -> bytes:
        """See ``Ledger.checklist_text``."""
        if digest not in self._texts:
            raise LedgerError(f"no checklist is kept under {digest}")
        return self._texts[digest]

    def events(self, case: str) -> tuple[Event, ...]:
        """See ``Ledger.events``."""
        return tuple(record.event() for record in self.records(case))

    def records(self, case: str) -> tuple[Record, ...]:
        """See ``Ledger.records``."""
        return tuple(self._records.get(case, ()))

    def head(self, case: str) -> Head:
        """See ``Ledger.head``."""
        return head_of(self._records.get(case, ()))

    def cases(self, *, unfinished_only: bool = False) -> list[CaseLine]:
        """See ``Ledger.cases``."""
        lines = [self._line(case) for case in self._records]
        wanted = [line for line in lines if not (unfinished_only and line.sealed)]
        return sorted(wanted, key=lambda line: (-line.opened.wall_us, line.case))

    def keys(self, *, rehearsals: bool) -> list[str]:
        """See ``Ledger.keys``."""
        return sorted(line.case for line in self.cases() if line.rehearsal == rehearsals)

    def has(self, case: str) -> bool:
        """See ``Ledger.has``."""
        return case in self._records

    def settle(self, case: str) -> int:
        """See ``Ledger.settle``; there is no second copy here."""
        return 0

    def reopen(self) -> None:
        """See ``Ledger.reopen``."""
        self._closed = False

    def close(self) -> None:
        """See ``Ledger.close``. The cases stay readable."""
        self._closed = True

    def _keep(self, digest: str, text: bytes) -> str:
        self._texts.setdefault(digest, text)
        return digest

    def _saved_before(self, events: Sequence[Event]) -> list[Record] | None:
        found = [self._by_id.get(event.id) for event in events]
        if all(record is None for record in found):
            return None
        saved = [r for r, e in zip(found, events, strict=True) if r is not None and same_content(r, e)]
        if len(saved) != len(events):
            raise Refused(f"case {events[0].case}: this press is already saved with other content")
        return saved

    def _chained(self, events: Sequence[Event]) -> list[Record]:
        case = events[0].case
        head = self.head(case)
        admit(events, head, sealed=self._sealed(case))
        digest = checklist_needed(events)
        if digest is not None and digest not in self._texts:
            raise Refused(f"case {case}: keep the checklist's text before the case is opened with it")
        try:
            return link_all(events, bytes.fromhex(head.hash_hex) if head.seq else FIRST_PREV)
        except NotCanonical as odd:
            raise Refused(f"case {case}: {odd}") from None

    def _sealed(self, case: str) -> bool:
        return any(record.kind == "case.sealed" for record in self._records.get(case, ()))

    def _line(self, case: str) -> CaseLine:
        records = self._records[case]
        opened, technique, targets, rehearsal = opening_line(records[0].event())
        return CaseLine(
            case=case,
            opened=opened,
            last=records[-1].event().entered.moment(),
            entries=len(records),
            sealed=self._sealed(case),
            rehearsal=rehearsal,
            technique=technique,
            targets=targets,
        )
