"""Check values of radiation units and notices, and of rapid pacing."""

from decimal import Decimal
from functools import partial

from labcheck.reference import pacing, radiation
from labcheck.reference.pacing import RunGroup
from labcheck.reference.radiation import NoticeKind, NoticeSchedule
from tests.reference.check import DERIVED, MEMORY, PRACTICE, SECONDARY, SEEN, Check, exact, number, refused

D = Decimal
STECKER = "Stecker, J Vasc Interv Radiol 2009; NCRP Report 168, 2010"


def notices(before: str, after: str, schedule: NoticeSchedule) -> tuple[NoticeKind, ...]:
    return tuple(notice.kind for notice in radiation.new_notices(D(before), D(after), schedule))


def doubted(area_cm2: str) -> bool:
    product = radiation.kap_gy_cm2(D(area_cm2), "Gy·cm2")
    return radiation.unit_doubt(product, radiation.air_kerma_mgy(D(1), "Gy")) is not None


AK, FL, KAP = radiation.AIR_KERMA_NOTICES, radiation.FLUOROSCOPY_NOTICES, radiation.KAP_NOTICES
FIRST, REPEAT, SUBSTANTIAL = NoticeKind.FIRST, NoticeKind.REPEAT, NoticeKind.SUBSTANTIAL

RADIATION: tuple[Check, ...] = (
    exact("air kerma to 2,999 mGy", lambda: notices("0", "2999", AK), (), STECKER, MEMORY),
    exact("air kerma to 3,000 mGy", lambda: notices("2999", "3000", AK), (FIRST,), STECKER, MEMORY),
    exact("air kerma 3,000 to 3,999 mGy", lambda: notices("3000", "3999", AK), (), STECKER, MEMORY),
    exact("air kerma to 4,000 mGy", lambda: notices("3999", "4000", AK), (REPEAT,), STECKER, MEMORY),
    exact("air kerma to 4,999 mGy", lambda: notices("4000", "4999", AK), (), STECKER, MEMORY),
    exact(
        "air kerma to 5,000 mGy",
        lambda: notices("4999", "5000", AK),
        (REPEAT, SUBSTANTIAL),
        "5 Gy: NCRP Report 168 as quoted in CVIR Endovasc 2020",
        SECONDARY,
    ),
    exact("fluoroscopy to 29:59", lambda: notices("0", str(D(1799) / 60), FL), (), STECKER, MEMORY),
    exact("fluoroscopy to 30:00", lambda: notices("29", "30", FL), (FIRST,), STECKER, MEMORY),
    exact("fluoroscopy to 45:00", lambda: notices("44", "45", FL), (REPEAT,), STECKER, MEMORY),
    exact("fluoroscopy to 60:00", lambda: notices("59", "60", FL), (REPEAT, SUBSTANTIAL), STECKER, MEMORY),
    exact("kerma-area product to 299.9 Gy·cm2", lambda: notices("0", "299.9", KAP), (), STECKER, MEMORY),
    exact(
        "kerma-area product to 300 Gy·cm2", lambda: notices("299.9", "300", KAP), (FIRST,), STECKER, MEMORY
    ),
    exact(
        "kerma-area product to 500 Gy·cm2",
        lambda: notices("499", "500", KAP),
        (REPEAT, SUBSTANTIAL),
        STECKER,
        MEMORY,
    ),
    number(
        "30,000 uGy·m2", lambda: radiation.kap_gy_cm2(D(30000), "uGy·m2"), "300", "0", "SI units", DERIVED
    ),
    exact(
        "188 Gy·cm2 with 1,639 mGy fit together",
        lambda: radiation.unit_doubt(
            radiation.kap_gy_cm2(D(188), "Gy·cm2"), radiation.air_kerma_mgy(D(1639), "mGy")
        ),
        None,
        "medians of Daneault, EuroIntervention 2012",
        SEEN,
    ),
    refused(
        "188 dGy·cm2 with 1,639 mGy",
        lambda: radiation.unit_doubt(
            radiation.kap_gy_cm2(D(188), "dGy·cm2"), radiation.air_kerma_mgy(D(1639), "mGy")
        ),
        "medians of Daneault, EuroIntervention 2012",
        SEEN,
    ),
)

UNITS: tuple[Check, ...] = (
    *(
        number(
            f"123.45 Gy·cm2 shown as {shown} {unit}",
            partial(radiation.kap_gy_cm2, D(shown), unit),
            "123.45",
            "0",
            "SI units",
            DERIVED,
        )
        for shown, unit in (
            ("123.45", "Gy·cm2"),
            ("1234.5", "dGy·cm2"),
            ("12345", "cGy·cm2"),
            ("123450", "mGy·cm2"),
            ("123450000", "uGy·cm2"),
            ("12345", "uGy·m2"),
            ("12.345", "mGy·m2"),
            ("0.012345", "Gy·m2"),
        )
    ),
    *(
        number(
            f"1,639 mGy shown as {shown} {unit}",
            partial(radiation.air_kerma_mgy, D(shown), unit),
            "1639",
            "0",
            "SI units",
            DERIVED,
        )
        for shown, unit in (
            ("1639", "mGy"),
            ("163.9", "cGy"),
            ("16.39", "dGy"),
            ("1.639", "Gy"),
            ("1639000", "uGy"),
        )
    ),
    *(
        number(
            f"31.5 min shown as {shown} {unit}",
            partial(radiation.fluoroscopy_min, D(shown), unit),
            "31.5",
            "0",
            "SI units",
            DERIVED,
        )
        for shown, unit in (("1890", "s"), ("31.5", "min"), ("0.525", "h"))
    ),
    *(
        exact(
            f"a mean field of {area} cm2",
            partial(doubted, area),
            doubt,
            "own estimate of what a detector gives",
            PRACTICE,
        )
        for area, doubt in (("19.9", True), ("20", False), ("600", False), ("600.1", True))
    ),
)

PACING: tuple[Check, ...] = tuple(
    exact(
        f"{runs} pacing runs",
        partial(pacing.run_group, runs),
        group,
        "Fefer, J Am Heart Assoc 2018",
        SEEN,
    )
    for runs, group in (
        (0, RunGroup.NONE),
        (1, RunGroup.ONE_OR_TWO),
        (2, RunGroup.ONE_OR_TWO),
        (3, RunGroup.THREE_OR_MORE),
    )
)
