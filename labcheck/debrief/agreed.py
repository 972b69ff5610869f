"""What the team has agreed for its debriefs, in a file of its own: which revisions of a checklist may be
compared, and the two failure rates of the failure chart.

Both are judgements and not facts, so they are written down with the day and the reason, and the page says them::

    format = 1

    [[join]]                      # times of these revisions are compared as one
    checklist = "electrosurgical"
    revisions = ["1", "2"]        # one alone joins differing texts of that revision
    reason = "revision 2 changed wording only"

    [[rates]]                     # failures a leaflet; without them there is no failure chart
    technique = "electrosurgical"
    acceptable = 0.05
    unacceptable = 0.15
    false_alarm_after = 400       # leaflets on average; the chart's limit follows from it
    agreed = "2031-01-10"
    reason = "agreed at the yearly meeting"
"""

from __future__ import annotations

from decimal import Decimal
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from labcheck.checklist.reading import fit
from labcheck.checklist.toml_text import parse_toml
from labcheck.checklist.words import Line, Number, Strict, Word

NAME = "debrief.toml"
"""The file's name in the ledger's folder."""
DAY = r"^\d{4}-\d{2}-\d{2}$"
MOST_RUN_LENGTH = 5_000


class Join(Strict):
    """Revisions of one checklist that time the same thing. One revision alone joins its differing texts."""

    checklist: Word
    revisions: Annotated[tuple[Line, ...], Field(min_length=1, max_length=50)]
    reason: Line


class Rates(Strict):
    """For one technique: failures a leaflet that are acceptable (p0) and that are not (p1), between 0 and 1.

    ``false_alarm_after``: leaflets on average to a false alarm, by which the chart's limit is chosen.
    """

    technique: Word
    acceptable: Annotated[Number, Field(ge=Decimal("0.001"), lt=1)]
    unacceptable: Annotated[Number, Field(gt=0, lt=1)]
    false_alarm_after: Annotated[int, Field(ge=10, le=MOST_RUN_LENGTH)] = 400
    agreed: Annotated[str, Field(pattern=DAY)]
    reason: Line

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        if self.acceptable >= self.unacceptable:
            raise ValueError("acceptable must be below unacceptable")
        return self


class Agreed(Strict):
    """The whole file."""

    format: Literal[1] = 1
    join: Annotated[tuple[Join, ...], Field(max_length=100)] = ()
    rates: Annotated[tuple[Rates, ...], Field(max_length=50)] = ()

    def joined(self, checklist: str, first: str, second: str) -> bool:
        """Whether two revisions of a checklist may be compared."""
        return any(
            j.checklist == checklist and first in j.revisions and second in j.revisions for j in self.join
        )

    def rates_of(self, technique: str) -> Rates | None:
        """The agreed rates of a technique; the last where there are several."""
        return next((r for r in reversed(self.rates) if r.technique == technique), None)


NOTHING = Agreed()


def read_agreed(text: bytes | str, name: str) -> Agreed:
    """The agreements in a file. Raises ``ChecklistError``, one line a fault."""
    return fit(Agreed, parse_toml(text, name), name)
