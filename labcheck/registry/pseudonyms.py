"""Keyed names and a keyed shift of dates, so that what leaves cannot be joined back without the key.

The key is a file that the hospital keeps away from the ledger. The same key gives the same pseudonyms, so that a
later export of a case replaces the earlier one, and two cases of one patient stay two cases of one patient.
"""

from __future__ import annotations

import base64
import hashlib
import hmac
import os
import stat
from collections.abc import Callable
from pathlib import Path

from labcheck.caselog.case import Case
from labcheck.registry.errors import ExportError
from labcheck.registry.writing import write_file

LEAST_BYTES = 32
MOST_BYTES = 4096
WEEK_US = 7 * 24 * 3600 * 1_000_000
MOST_WEEKS = 260
LETTERS = 20
"""Base32 letters of a pseudonym: 100 bits, so that no two cases ever meet."""


class Pseudonyms:
    """Names and shifts made with one key (HMAC-SHA-256, RFC 2104)."""

    def __init__(self, key: bytes) -> None:
        if len(key) < LEAST_BYTES:
            raise ExportError(
                f"the key holds {len(key)} bytes; it needs {LEAST_BYTES} or more of pure chance"
            )
        self._key = key

    def case_id(self, case: Case) -> str:
        """The name a case leaves under."""
        return "P-" + self._name("case", case.key)

    def subject_id(self, case: Case) -> str | None:
        """The name its patient leaves under; None where the plan has no study number."""
        study = case.plan.study_number if case.plan is not None else None
        return "Q-" + self._name("subject", study) if study is not None else None

    def checklist_digest(self, case: Case) -> str:
        """The name of the exact text of the checklist: its own digest would say when a revision was in use."""
        return "keyed:" + self._digest("checklist", case.checklist_digest).hex()

    def shift_us(self, case: Case) -> int:
        """Microseconds, a whole number of weeks back, the same for all cases of one study number."""
        study = case.plan.study_number if case.plan is not None else None
        who = f"subject/{study}" if study is not None else f"case/{case.key}"
        number = int.from_bytes(self._digest("shift", who)[:8], "big")
        return -WEEK_US * (1 + number % MOST_WEEKS)

    def _name(self, use: str, value: str) -> str:
        return base64.b32encode(self._digest(use, value)).decode()[:LETTERS]

    def _digest(self, use: str, value: str) -> bytes:
        return hmac.new(self._key, f"labcheck-{use}-v1\x00{value}".encode(), hashlib.sha256).digest()


def read_key(path: Path, ledger: Path | None = None) -> Pseudonyms:
    """The pseudonyms of a key file. Raises ``ExportError`` if it is short, readable by others or in the ledger."""
    try:
        handle = os.open(path, os.O_RDONLY | os.O_CLOEXEC)
        with os.fdopen(handle, "rb") as file:
            found = os.fstat(handle)
            if not stat.S_ISREG(found.st_mode):
                raise ExportError(f"the key {path} is not a file")
            if stat.S_IMODE(found.st_mode) & 0o077:
                raise ExportError(f"the key {path} can be read by others; run: chmod 600 {path}")
            key = file.read(MOST_BYTES + 1)
    except OSError as fault:
        raise ExportError(f"cannot read the key {path}: {fault.strerror}") from None
    if len(key) > MOST_BYTES:
        raise ExportError(f"the key {path} is larger than {MOST_BYTES} bytes; is it the right file?")
    if ledger is not None and path.resolve().is_relative_to(ledger.resolve()):
        raise ExportError(
            f"the key {path} lies in the ledger's folder; keep it elsewhere, or it protects nothing"
        )
    return Pseudonyms(key)


def make_key(path: Path, random_bytes: Callable[[int], bytes] = os.urandom) -> Path:
    """Write a new key file. Raises ``ExportError`` if there already is one: an old key is never replaced."""
    if path.exists() or path.is_symlink():
        raise ExportError(f"{path} is there already; an old key is never replaced, choose another name")
    return write_file(path.parent, path.name, random_bytes(LEAST_BYTES))
