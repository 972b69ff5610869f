"""Which events a case takes: the rules every ledger keeps, whatever it stores in.

The file ledger's triggers say the same again, so that no other path can write past them.
"""

from __future__ import annotations

from collections.abc import Sequence

from labcheck.caselog.events import AFTER_SEAL, CaseOpened, Event
from labcheck.ledger.chain import Head
from labcheck.ledger.errors import Fenced, Refused, StaleEpoch


def one_press(events: Sequence[Event]) -> str:
    """The case these events belong to. Raises ``Refused`` unless they are one press on one case."""
    if not events:
        raise Refused("nothing to save: a press gave no events")
    first = events[0]
    if any(event.case != first.case for event in events):
        raise Refused("one press may write to one case only")
    if any(event.press != first.press for event in events):
        raise Refused(f"case {first.case}: events of different presses in one save; send them one by one")
    if len({event.id for event in events}) != len(events):
        raise Refused(f"case {first.case}: two events of one press carry the same id")
    return first.case


def admit(events: Sequence[Event], head: Head, *, sealed: bool) -> None:
    """Check that the events follow this head. Raises ``Fenced`` (``StaleEpoch``) or ``Refused``."""
    seq, epoch = head.seq, head.epoch
    for event in events:
        where = f"case {event.case}, entry {event.seq} ({event.kind})"
        if event.epoch < epoch:
            raise StaleEpoch(
                f"{where}: another console took this case over (epoch {epoch}, ours {event.epoch}); "
                "nothing more is written from here, enter it there"
            )
        if event.seq <= head.seq:
            # One console writes a case. A number that is taken means that another one writes it too, even if no
            # lease was ever taken (its lock file was deleted, say).
            raise Fenced(
                f"{where}: this number is taken; another console writes to this case (now at {head.seq}). "
                "Nothing more is written from here; open the case again"
            )
        if event.seq != seq + 1:
            raise Refused(f"{where}: the next entry is {seq + 1}; read the case again")
        _admit_kind(event, seq, epoch, sealed=sealed, where=where)
        seq, epoch = event.seq, event.epoch
        sealed = sealed or event.kind == "case.sealed"


def _admit_kind(event: Event, seq: int, epoch: int, *, sealed: bool, where: str) -> None:
    opening = event.kind == "case.opened"
    if opening != (seq == 0):
        raise Refused(f"{where}: a case begins with one case.opened, and has no second")
    if opening and event.epoch != 1:
        raise Refused(f"{where}: a new case begins in epoch 1")
    if not opening and event.epoch != epoch and (event.kind != "lease.taken" or event.epoch != epoch + 1):
        raise Refused(f"{where}: only lease.taken begins a new epoch, and by one (now {epoch})")
    if sealed and event.kind not in AFTER_SEAL:
        raise Refused(f"{where}: the case is sealed; only {', '.join(AFTER_SEAL)} may follow")
    if event.target is not None and event.target > seq:
        raise Refused(f"{where}: names entry {event.target}, which is not an earlier one")


def checklist_needed(events: Sequence[Event]) -> str | None:
    """The digest of the checklist text an opening event leans on, if there is one among these."""
    first = events[0].what
    return first.checklist_digest if isinstance(first, CaseOpened) else None
