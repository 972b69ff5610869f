"""What can go wrong with the ledger. Every message is one line that says what, where, and what to do."""

from __future__ import annotations


class LedgerError(Exception):
    """Base of all complaints of the ledger."""


class UnsafePlace(LedgerError):  # noqa: N818 (reads as a fact)
    """The folder cannot be trusted to keep what is written there."""


class Damaged(LedgerError):  # noqa: N818 (reads as a fact)
    """What is stored is not what was written: schema, chain or mirror do not agree."""


class NotSaved(LedgerError):  # noqa: N818 (reads as a fact)
    """The press is not in the ledger. It may be sent again with the same ids."""


class Busy(NotSaved):
    """Another program held the ledger longer than the bounded wait."""


class Refused(LedgerError):  # noqa: N818 (reads as a fact)
    """The events do not fit this case: wrong number, wrong order, after the seal, or not canonical."""


class Fenced(LedgerError):  # noqa: N818 (reads as a fact)
    """This console no longer holds the case; nothing of it is written any more."""


class StaleEpoch(Fenced):
    """Another console took the case over since this one read its head."""
