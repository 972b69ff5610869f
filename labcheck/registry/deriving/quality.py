"""How far a time can be trusted: of one entry as written and as it stands, and the worst of several."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import get_args, overload

from labcheck.caselog.case import Case
from labcheck.caselog.events import Event, EventAmended
from labcheck.caselog.folding import effective_payload
from labcheck.caselog.stamps import Moment
from labcheck.registry.rows.fields import Quality

ORDER: tuple[Quality, ...] = get_args(Quality)
"""From the best to the worst."""


def as_written(case: Case, event: Event) -> Quality:
    """How far the happened time of an entry could be trusted when it was written.

    What was written anew on another leaflet took its time from the entry that it replaces, and is no better.
    """
    own = _of(event.happened, told=event.precision_s > 0)
    if event.mode != "amended":
        return own
    return worst(case, _replaced(case, event), own)


def _replaced(case: Case, event: Event) -> Iterator[int]:
    """The entries that the same press took out and wrote anew as this one: of its kind, and standing at its time."""
    for seq, by in case.voided.items():
        old = case.event(seq)
        if (
            old is not None
            and old.kind == event.kind
            and seq < event.seq
            and case.log[by - 1].press == event.press
        ):
            standing = effective_payload(case, seq)
            if standing is not None and standing[1] == event.happened:
                yield seq


def as_it_stands(case: Case, seq: int) -> Quality | None:
    """The same after corrections: a time that was amended was told by a person. None without such an entry."""
    event = case.event(seq)
    if event is None:
        return None
    if not retimed(case, seq):
        return as_written(case, event)
    standing = effective_payload(case, seq)
    return _of(standing[1], told=True) if standing is not None else None


def retimed(case: Case, seq: int) -> bool:
    """Whether an amendment that counts changes when the entry happened."""
    changes = (case.log[n - 1].what for n in case.amended.get(seq, ()))
    return any(isinstance(what, EventAmended) and what.field == "happened" for what in changes)


@overload
def worst(case: Case, seqs: Iterable[int | None]) -> Quality | None: ...
@overload
def worst(case: Case, seqs: Iterable[int | None], best: Quality) -> Quality: ...
def worst(case: Case, seqs: Iterable[int | None], best: Quality | None = None) -> Quality | None:
    """The worst quality of these entries as they stand, ``best`` at most; ``best`` where there is none of them."""
    found = [best, *(as_it_stands(case, seq) for seq in seqs if seq is not None)]
    return max((one for one in found if one is not None), key=ORDER.index, default=None)


def _of(at: Moment, *, told: bool) -> Quality:
    if at.boot_us is None:
        return "unsynchronized"
    return "estimated" if told else "measured"
