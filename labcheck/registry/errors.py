"""What can go wrong on the way out. Every message is one line that says what, where, and what to do."""

from __future__ import annotations


class ExportError(Exception):
    """Nothing was exported, or not what was asked for; what was there before is untouched."""
