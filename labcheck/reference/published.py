"""Published series, to be shown only as context, each with its denominator and source, and never as a target.

Only figures that were read in a source, or in a text quoting it, are here. Counts are per leaflet or per
patient as `per` says; the two must not be compared. Where a paper prints a percentage that its own numbers
do not give, the numbers are kept.
"""

from dataclasses import dataclass
from enum import StrEnum

from labcheck.reference.sources import Mark, Source


class Technique(StrEnum):
    """The technique that a series is about."""

    ELECTROSURGICAL = "electrosurgical"
    SPLITTER = "mechanical splitter"
    PROTECTION = "coronary protection"
    MITRAL = "anterior mitral leaflet"
    VALVE = "valve implantation without leaflet modification"


class Spread(StrEnum):
    """What the two ends of a published time are."""

    QUARTILES = "quartiles"
    ONE_SD = "mean -/+ 1 SD"
    NONE = "no spread given"


@dataclass(frozen=True, slots=True)
class PublishedCount:
    """`count` of `n`, per leaflet or patient."""

    technique: Technique
    what: str
    count: int
    n: int
    per: str
    source: Source

    def text(self) -> str:
        """`35 of 37 leaflets: traversed and lacerated`; no percentage."""
        return f"{self.count} of {self.n} {self.per}s: {self.what}"


@dataclass(frozen=True, slots=True)
class PublishedTime:
    """A time in minutes, its two ends where given, and how many cases it is from (None when not known)."""

    technique: Technique
    what: str
    minutes: float
    low: float | None
    high: float | None
    spread: Spread
    n: int | None
    source: Source


KHAN_2019 = Source("Khan, JACC Cardiovasc Interv 2019, prospective trial", Mark.SEEN)
KHAN_2021 = Source(
    "Khan, JACC Cardiovasc Interv 2021, international registry; counts from its percentages", Mark.DERIVED
)
ABDEL_WAHAB_2023 = Source(
    "Abdel-Wahab, EuroIntervention 2023, European registry; count from its percentage", Mark.DERIVED
)
CENTRE_A_2020 = Source("single European centre, EuroIntervention 2020", Mark.SEEN)
CENTRE_B_2021 = Source("single European centre, Clin Res Cardiol 2021", Mark.SEEN)
DVIR_2024 = Source("Dvir, Eur Heart J 2024, pivotal splitter study", Mark.SECONDARY)
SPLITTER_TIMES = Source("early splitter series, with ultrasound check", Mark.SECONDARY)
LISKO = Source("Lisko, antegrade mitral series", Mark.SEEN)
KHAN_2024 = Source("Khan, JACC Cardiovasc Interv 2024, mitral trial", Mark.SEEN)
PALMERINI_2020 = Source("Palmerini, JACC Cardiovasc Interv 2020; denominator derived", Mark.DERIVED)
TOMII_2022 = Source("Tomii, JACC Cardiovasc Interv 2022", Mark.SECONDARY)
RIBEIRO_2018 = Source("Ribeiro, Eur Heart J 2018, valve in valve", Mark.SEEN)
JABBOUR_2018 = Source("Jabbour, J Am Coll Cardiol 2018, delayed obstruction", Mark.SEEN)

_E, _S, _P = Technique.ELECTROSURGICAL, Technique.SPLITTER, Technique.PROTECTION
_M, _V = Technique.MITRAL, Technique.VALVE

COUNTS: tuple[PublishedCount, ...] = (
    PublishedCount(_E, "traversed and lacerated", 35, 37, "leaflet", KHAN_2019),
    PublishedCount(_E, "primary success", 28, 30, "patient", KHAN_2019),
    PublishedCount(_E, "haemodynamic compromise after laceration", 2, 30, "patient", KHAN_2019),
    PublishedCount(_E, "traversed", 203, 214, "patient", KHAN_2021),
    PublishedCount(_E, "lacerated", 202, 214, "patient", KHAN_2021),
    PublishedCount(_E, "coronary obstruction", 10, 214, "patient", KHAN_2021),
    PublishedCount(_E, "lacerated", 83, 85, "leaflet", ABDEL_WAHAB_2023),
    PublishedCount(_E, "lacerated", 20, 21, "patient", CENTRE_A_2020),
    PublishedCount(_E, "lacerated", 13, 15, "patient", CENTRE_B_2021),
    PublishedCount(_S, "technical success", 59, 60, "patient", DVIR_2024),
    PublishedCount(_S, "coronary obstruction, two partial and one complete", 3, 60, "patient", DVIR_2024),
    PublishedCount(_M, "lacerated", 30, 30, "patient", KHAN_2024),
    PublishedCount(_P, "delayed occlusion after protection by wire only", 4, 93, "patient", PALMERINI_2020),
    PublishedCount(_V, "technical success", 1435, 1624, "patient", TOMII_2022),
    PublishedCount(_V, "coronary obstruction", 37, 1612, "patient", RIBEIRO_2018),
    PublishedCount(_V, "delayed coronary obstruction", 38, 17092, "patient", JABBOUR_2018),
)

TIMES: tuple[PublishedTime, ...] = (
    PublishedTime(_E, "whole procedure", 82, 70, 131, Spread.QUARTILES, 21, CENTRE_A_2020),
    PublishedTime(_E, "sheath in to laceration", 45, 35, 67, Spread.QUARTILES, 21, CENTRE_A_2020),
    PublishedTime(_S, "device time, one cusp", 27, None, None, Spread.NONE, None, SPLITTER_TIMES),
    PublishedTime(_S, "device time, two cusps", 37, None, None, Spread.NONE, None, SPLITTER_TIMES),
    PublishedTime(_M, "traversal to valve, antegrade", 39, 30, 48, Spread.ONE_SD, 8, LISKO),
    PublishedTime(_M, "traversal to valve, retrograde", 65, 30, 100, Spread.ONE_SD, None, LISKO),
)
