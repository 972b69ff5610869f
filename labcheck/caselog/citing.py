"""What a computed line says, and how it names its source on a screen."""

from __future__ import annotations

import re
from dataclasses import dataclass

from labcheck.reference.sources import Source


@dataclass(frozen=True, slots=True)
class Told:
    """One derived line. ``source`` is empty, or the whole citation for the sources key.

    ``missing``: it says what is wanting instead of a figure. ``notice``: a published level is reached.
    """

    id: str
    words: str
    source: str = ""
    missing: bool = False
    notice: bool = False


def cite(source: Source) -> str:
    """The short form that stands behind a figure: "(Tang, EuroIntervention 2020, from memory: verify locally)".

    Author, journal and year, or the first words where there is no year; ``source.line()`` has the rest.
    """
    head = re.split(r"[;:(]", source.text, maxsplit=1)[0].strip()
    dated = re.match(r".*?\b(19|20)\d\d\b", head)
    short = dated.group() if dated else head.partition(",")[0]
    return f"({short}, {source.mark.value}: verify locally)"


def whole(*sources: Source) -> str:
    """The full citations in one line, each once."""
    return "; ".join(dict.fromkeys(source.line() for source in sources))
