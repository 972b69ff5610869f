"""Where a number came from, and how far that origin was followed.

Every constant in this package carries a `Source`. The mark says whether the published text itself was read;
a number marked `FROM_MEMORY` must be checked against the paper before a site relies on it.
"""

from dataclasses import dataclass
from enum import StrEnum


class Mark(StrEnum):
    """How far the origin of a number was followed."""

    SEEN = "seen"
    SECONDARY = "secondary"
    FROM_MEMORY = "from memory"
    COMMON_PRACTICE = "common practice, no source"
    DERIVED = "derived"


@dataclass(frozen=True, slots=True)
class Source:
    """A citation and its mark. `line()` is what a screen shows beside a limit."""

    text: str
    mark: Mark

    def line(self) -> str:
        """One line for a screen; always ends with the reminder that local protocol decides."""
        return f"{self.text} ({self.mark.value}); verify locally"
