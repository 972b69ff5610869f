"""A press that had to be asked about once more: it happened when it was first pressed, and is entered now."""

from __future__ import annotations

from labcheck.caselog.deciding import NEVER_LATE
from labcheck.caselog.deciding.moments import HELD_US
from labcheck.caselog.intents import Claim, Intent
from labcheck.caselog.stamps import Stamp


def as_first_pressed(intent: Intent, first: Stamp, now: Stamp, *, always: bool = False) -> Intent:
    """The intent to be sent with the stamp ``now`` of the second key.

    A live press keeps the time of its first key for a minute; after that the second key's time counts. What was
    said to be so long ago was so long before the first key. ``always``: the first key's time counts however long the
    second one took, since something began with it; after a minute it is a late entry.
    """
    waited_us = max(0, now.boot_us - first.boot_us) if now.boot_id == first.boot_id else 0
    claim = intent.claim
    if claim is not None:
        if claim.ago_us is None:
            return intent
        return intent.model_copy(
            update={"claim": claim.model_copy(update={"ago_us": claim.ago_us + waited_us})}
        )
    if getattr(intent, "do", "") in NEVER_LATE or not waited_us or (waited_us > HELD_US and not always):
        return intent
    return intent.model_copy(update={"claim": Claim(ago_us=waited_us, precision_s=0, held=True)})


def titled(title: str, intent: Intent) -> str:
    """The title of a panel that asks about an intent once more: a late entry stays visibly late."""
    claim = intent.claim
    return title if claim is None or claim.held else f"LATE  {title}"
