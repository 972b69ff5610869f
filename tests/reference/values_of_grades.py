"""Check values of the grades: anatomy, alignment, delayed windows, endpoints."""

from decimal import Decimal
from functools import partial

from labcheck.reference import alignment, anatomy, delayed, endpoints
from labcheck.reference.alignment import Alignment
from labcheck.reference.anatomy import LeafletTop, ObstructionType
from labcheck.reference.endpoints import Answer, Intervention, NeuroWindow, RoomExit
from labcheck.reference.figures import Reason
from tests.reference.check import DERIVED, MEMORY, SECONDARY, SEEN, Check, exact, refused

D = Decimal

TANG = "Tang, EuroIntervention 2020"
RULE = "PMC9991077, JACC Cardiovasc Interv 2023"
VARC = "VARC-3, Généreux 2021"
VARC2 = "VARC-2, Kappetein 2012"
JABBOUR = "Jabbour, J Am Coll Cardiol 2018"
CONSORTIUM = "alignment consortium"

BELOW, MIDDLE, ABOVE = LeafletTop.BELOW_OSTIUM, LeafletTop.BELOW_STJ, LeafletTop.ABOVE_STJ


def typed(top: LeafletTop, vtc: str | None = None, vtstj: str | None = None) -> ObstructionType | Reason:
    return anatomy.obstruction_type(top, D(vtc) if vtc else None, D(vtstj) if vtstj else None)


def rule(cusp: str, coronary: str, vtc: str | None, calcium: str | None) -> bool | Reason:
    return anatomy.cusp_rule(D(cusp), D(coronary), D(vtc) if vtc else None, D(calcium) if calcium else None)


def at_exit(*interventions: Intervention, valves: int = 1) -> Answer:
    return endpoints.technical_success(RoomExit(True, True, valves, True, interventions)).answer


ANATOMY: tuple[Check, ...] = (
    exact("leaflet below the ostium", lambda: typed(BELOW), ObstructionType.I, TANG, MEMORY),
    exact("between, VTC 5.0", lambda: typed(MIDDLE, "5.0"), ObstructionType.IIA, TANG, MEMORY),
    exact("between, VTC 4.1", lambda: typed(MIDDLE, "4.1"), ObstructionType.IIA, TANG, MEMORY),
    exact("between, VTC 4.0", lambda: typed(MIDDLE, "4.0"), ObstructionType.IIB, TANG, MEMORY),
    exact("between, VTC 3.5", lambda: typed(MIDDLE, "3.5"), ObstructionType.IIB, TANG, MEMORY),
    exact("above STJ, VTC 5, VTSTJ 3", lambda: typed(ABOVE, "5", "3"), ObstructionType.IIIA, TANG, MEMORY),
    exact("above STJ, VTC 3, VTSTJ 3", lambda: typed(ABOVE, "3", "3"), ObstructionType.IIIB, TANG, MEMORY),
    exact(
        "above STJ, VTC 5, VTSTJ 1.5", lambda: typed(ABOVE, "5", "1.5"), ObstructionType.IIIC, TANG, MEMORY
    ),
    exact(
        "above STJ, VTC not measured, VTSTJ 2.0",
        lambda: typed(ABOVE, None, "2.0"),
        ObstructionType.IIIC,
        TANG,
        MEMORY,
    ),
    exact(
        "above STJ, VTC 5, VTSTJ 2.1", lambda: typed(ABOVE, "5", "2.1"), ObstructionType.IIIA, TANG, MEMORY
    ),
    refused("between, VTC not measured", lambda: typed(MIDDLE), TANG, MEMORY),
    exact(
        "the high-risk types",
        lambda: {t.value for t in ObstructionType if t.high_risk},
        {"IIB", "IIIB", "IIIC"},
        "J Cardiovasc Comput Tomogr 2023",
        SEEN,
    ),
    exact("rule: taller cusp, VTC 4.0", lambda: rule("14", "10", "4.0", "0"), True, RULE, SEEN),
    exact(
        "rule: taller cusp, VTC 4.1, calcium 601", lambda: rule("14", "10", "4.1", "601"), True, RULE, SEEN
    ),
    exact(
        "rule: taller cusp, VTC 4.1, calcium 600", lambda: rule("14", "10", "4.1", "600"), False, RULE, SEEN
    ),
    exact("rule: lower cusp, VTC 3", lambda: rule("9", "10", "3", "900"), False, RULE, SEEN),
    exact(
        "rule: cusp as tall as the coronary is high", lambda: rule("10", "10", "3", "900"), False, RULE, SEEN
    ),
    refused("rule: VTC 4.1, calcium not measured", lambda: rule("14", "10", "4.1", None), RULE, SEEN),
)

ALIGNMENT: tuple[Check, ...] = tuple(
    exact(
        f"deviation {angle}",
        partial(alignment.grade, D(angle)),
        grade,
        CONSORTIUM,
        MEMORY,
    )
    for angle, grade in (
        ("15", Alignment.ALIGNED),
        ("15.1", Alignment.MILD),
        ("-30", Alignment.MILD),
        ("30.1", Alignment.MODERATE),
        ("45", Alignment.MODERATE),
        ("45.1", Alignment.SEVERE),
        ("60", Alignment.SEVERE),
        ("-105", Alignment.ALIGNED),
    )
)

ALIGNMENT_READINGS: tuple[Check, ...] = (
    exact(
        "30 degrees in the two-way reading",
        lambda: alignment.aligned_to_thirty(D(30)),
        True,
        "Zeng",
        SECONDARY,
    ),
    exact(
        "30.1 degrees in the two-way reading",
        lambda: alignment.aligned_to_thirty(D("30.1")),
        False,
        "Zeng",
        SECONDARY,
    ),
    exact(
        "commissure 20 degrees from the ostium",
        lambda: alignment.severe_overlap(D(20)),
        True,
        CONSORTIUM,
        MEMORY,
    ),
    exact(
        "commissure 20.1 degrees from the ostium",
        lambda: alignment.severe_overlap(D("20.1")),
        False,
        CONSORTIUM,
        MEMORY,
    ),
    exact("a turn of 130 degrees", lambda: alignment.deviation(D(130)), D(10), "three commissures", DERIVED),
    exact("a turn of -359 degrees", lambda: alignment.deviation(D(-359)), D(1), "three commissures", DERIVED),
    exact("a turn of 61 degrees", lambda: alignment.deviation(D(61)), D(59), "three commissures", DERIVED),
)

DELAYED: tuple[Check, ...] = tuple(
    exact(
        f"obstruction at {hours} h",
        partial(delayed.window, D(hours)),
        window,
        JABBOUR,
        SEEN,
    )
    for hours, window in (
        ("24", delayed.WITHIN_A_DAY),
        ("25", delayed.WITHIN_A_WEEK),
        ("168", delayed.WITHIN_A_WEEK),
        ("168.1", delayed.BETWEEN),
        ("1439.9", delayed.BETWEEN),
        ("1440", delayed.LATE),
    )
)

PUBLISHED_WINDOWS: tuple[Check, ...] = (
    exact(
        "the published obstructions by window",
        lambda: tuple(
            window.published
            for window in (delayed.WITHIN_A_DAY, delayed.WITHIN_A_WEEK, delayed.BETWEEN, delayed.LATE)
        ),
        (18, 6, 38 - 18 - 6 - 14, 14),
        JABBOUR,
        SEEN,
    ),
)

ENDPOINTS: tuple[Check, ...] = (
    exact("technical success, all met", at_exit, Answer.YES, "Tomii, JACC Cardiovasc Interv 2022", SECONDARY),
    exact(
        "technical success, two valves",
        lambda: at_exit(valves=2),
        Answer.NO,
        "Tomii, JACC Cardiovasc Interv 2022",
        SECONDARY,
    ),
    exact(
        "technical success, bailout coronary stent",
        lambda: at_exit(Intervention("coronary stent", planned=False)),
        Answer.NO,
        "own reading of VARC-3",
        DERIVED,
    ),
    exact(
        "technical success, planned protective stent",
        lambda: at_exit(Intervention("coronary stent", planned=True)),
        Answer.YES,
        "own reading of VARC-3",
        DERIVED,
    ),
    *(
        exact(
            f"neurological event at {hours} h",
            partial(endpoints.neuro_window, D(hours)),
            window,
            VARC,
            MEMORY,
        )
        for hours, window in (
            ("23", NeuroWindow.ACUTE),
            ("24", NeuroWindow.ACUTE),
            ("25", NeuroWindow.SUBACUTE),
            ("720", NeuroWindow.SUBACUTE),
            ("744", NeuroWindow.EARLY),
            ("8760", NeuroWindow.EARLY),
            ("8761", NeuroWindow.LATE),
        )
    ),
)

GRADES: tuple[Check, ...] = (
    *ANATOMY,
    *ALIGNMENT,
    *ALIGNMENT_READINGS,
    *DELAYED,
    *PUBLISHED_WINDOWS,
    *ENDPOINTS,
)
