"""Check values of the arithmetic: kidney, contrast, anticoagulation, radiation, pacing."""

from decimal import Decimal
from typing import Literal

from labcheck.reference import anticoagulation, contrast, renal
from labcheck.reference.anticoagulation import ActStanding, ProtamineClass
from labcheck.reference.figures import Figure, Reason
from tests.reference.check import (
    DERIVED,
    MEMORY,
    PRACTICE,
    SECONDARY,
    SEEN,
    Check,
    exact,
    number,
    refused,
)

D = Decimal

Sex = Literal["female", "male"]
INKER = "Inker, N Engl J Med 2021"
CG = "Cockcroft, Nephron 1976, formula"
CIGARROA = "Cigarroa, Am J Med 1989"
GURM = "Gurm, J Am Coll Cardiol 2011"
STECKER = "Stecker, J Vasc Interv Radiol 2009; NCRP Report 168, 2010"
AL_KASSOU = "Al-Kassou, Clin Cardiol 2023"
ACT_2012 = "2012 expert consensus as quoted in two trial records"


def mg(age: str, sex: Sex, creatinine: str) -> Figure | Reason:
    return renal.filtration(D(age), sex, D(creatinine), "mg/dL")


def umol(age: str, sex: Sex, creatinine: str) -> Figure | Reason:
    return renal.filtration(D(age), sex, D(creatinine), "umol/L")


def cg(age: str, kg: str, sex: Sex, creatinine: str) -> Figure | Reason:
    return renal.clearance(D(age), D(kg), sex, D(creatinine), "mg/dL")


def cigarroa(kg: str, creatinine: str) -> Figure | Reason:
    return contrast.cigarroa_limit(D(kg), D(creatinine), "mg/dL")


def multiple(of: str) -> Figure | Reason:
    return contrast.clearance_limit(D(of), cg("80", "60", "female", "1.2"))


def protamine(milligram: str, heparin: str) -> ProtamineClass | Reason:
    found = anticoagulation.protamine_ratio(D(milligram), D(heparin))
    return found if isinstance(found, Reason) else found.dose_class


KIDNEY: tuple[Check, ...] = (
    number(
        "filtration 1.2 mg/dL, 55, male",
        lambda: mg("55", "male", "1.2"),
        "71",
        "0.5",
        f"{INKER}; calculator value quoted in a public repository",
        SECONDARY,
    ),
    number(
        "filtration 1.1 mg/dL, 50, male",
        lambda: mg("50", "male", "1.1"),
        "82",
        "0.5",
        f"{INKER}; public unit test",
        SECONDARY,
    ),
    number(
        "filtration 100 umol/L, 70, male",
        lambda: umol("70", "male", "100"),
        "70",
        "0.5",
        f"{INKER}; public unit test citing a kidney foundation calculator",
        SECONDARY,
    ),
    number(
        "filtration 100 umol/L, 70, female",
        lambda: umol("70", "female", "100"),
        "52",
        "0.5",
        f"{INKER}; public unit test citing a kidney foundation calculator",
        SECONDARY,
    ),
    number(
        "filtration 200 umol/L, 70, male",
        lambda: umol("70", "male", "200"),
        "30",
        "0.5",
        f"{INKER}; public unit test citing a kidney foundation calculator",
        SECONDARY,
    ),
    number(
        "filtration 200 umol/L, 70, female",
        lambda: umol("70", "female", "200"),
        "23",
        "0.5",
        f"{INKER}; public unit test citing a kidney foundation calculator",
        SECONDARY,
    ),
    number(
        "filtration at the knee, female", lambda: mg("80", "female", "0.7"), "87.38", "0.01", INKER, DERIVED
    ),
    number("filtration at the knee, male", lambda: mg("80", "male", "0.9"), "86.34", "0.01", INKER, DERIVED),
    number("filtration below the knee", lambda: mg("80", "female", "0.5"), "94.76", "0.01", INKER, DERIVED),
    number("filtration far above the knee", lambda: mg("85", "male", "2.5"), "24.56", "0.01", INKER, DERIVED),
    number(
        "clearance 80 y, 60 kg, 1.2, female",
        lambda: cg("80", "60", "female", "1.2"),
        "35.42",
        "0.01",
        CG,
        DERIVED,
    ),
    number(
        "clearance 75 y, 80 kg, 1.0, male",
        lambda: cg("75", "80", "male", "1.0"),
        "72.22",
        "0.01",
        CG,
        DERIVED,
    ),
    number(
        "1.0 mg/dL in umol/L",
        lambda: renal.creatinine_umol_l(D("1.0"), "mg/dL"),
        "88.4",
        "0",
        "molar mass of creatinine 113.12 g/mol",
        DERIVED,
    ),
    refused("filtration of a child", lambda: mg("17", "male", "1.0"), f"{INKER}: adults", SECONDARY),
    refused("100 mg/dL, which is umol/L", lambda: mg("70", "male", "100"), "ranges do not overlap", PRACTICE),
    refused(
        "1.2 umol/L, which is mg/dL", lambda: umol("70", "male", "1.2"), "ranges do not overlap", PRACTICE
    ),
)

CONTRAST: tuple[Check, ...] = (
    number("2.0 x clearance 35.42", lambda: multiple("2.0"), "70.8", "0.05", GURM, SEEN),
    number("3.0 x clearance 35.42", lambda: multiple("3.0"), "106.3", "0.06", GURM, SEEN),
    number(
        "3.7 x clearance 35.42",
        lambda: multiple("3.7"),
        "131.0",
        "0.05",
        "Laskey, J Am Coll Cardiol 2007",
        MEMORY,
    ),
    number("Cigarroa 80 kg, 2.0 mg/dL", lambda: cigarroa("80", "2.0"), "200", "0", CIGARROA, SEEN),
    number("Cigarroa 60 kg, 1.0: at the cap", lambda: cigarroa("60", "1.0"), "300", "0", CIGARROA, SEEN),
    number(
        "Cigarroa 59.9 kg, 1.0: below the cap", lambda: cigarroa("59.9", "1.0"), "299.5", "0", CIGARROA, SEEN
    ),
    number("Cigarroa 90 kg, 1.0: held at the cap", lambda: cigarroa("90", "1.0"), "300", "0", CIGARROA, SEEN),
    number("Cigarroa 50 kg, 1.8 mg/dL", lambda: cigarroa("50", "1.8"), "138.9", "0.05", CIGARROA, SEEN),
    refused(
        "a multiple of filtration",
        lambda: contrast.clearance_limit(D("3.0"), mg("80", "female", "1.2")),
        GURM,
        SEEN,
    ),
    refused("a multiple nobody published", lambda: multiple("5.0"), GURM, SEEN),
)

ANTICOAGULATION: tuple[Check, ...] = (
    number(
        "6,000 IU at 75 kg",
        lambda: anticoagulation.heparin_per_kg(D(6000), D(75)),
        "80.0",
        "0",
        "IU / kg",
        DERIVED,
    ),
    exact(
        "protamine 80 mg for 8,000 IU", lambda: protamine("80", "8000"), ProtamineClass.FULL, AL_KASSOU, SEEN
    ),
    exact(
        "protamine 80.1 mg for 8,000 IU",
        lambda: protamine("80.1", "8000"),
        ProtamineClass.UNCLASSIFIED,
        AL_KASSOU,
        SEEN,
    ),
    exact(
        "protamine 63 mg for 7,000 IU: 0.9",
        lambda: protamine("63", "7000"),
        ProtamineClass.FULL,
        AL_KASSOU,
        SEEN,
    ),
    exact(
        "protamine 62.9 mg for 7,000 IU",
        lambda: protamine("62.9", "7000"),
        ProtamineClass.UNCLASSIFIED,
        AL_KASSOU,
        SEEN,
    ),
    exact(
        "protamine 60 mg for 8,000 IU",
        lambda: protamine("60", "8000"),
        ProtamineClass.UNCLASSIFIED,
        AL_KASSOU,
        SEEN,
    ),
    exact(
        "protamine 48 mg for 8,000 IU: 0.6",
        lambda: protamine("48", "8000"),
        ProtamineClass.PARTIAL,
        AL_KASSOU,
        SEEN,
    ),
    exact(
        "protamine 40 mg for 8,000 IU",
        lambda: protamine("40", "8000"),
        ProtamineClass.PARTIAL,
        AL_KASSOU,
        SEEN,
    ),
    exact(
        "protamine 31.9 mg for 8,000 IU",
        lambda: protamine("31.9", "8000"),
        ProtamineClass.UNCLASSIFIED,
        AL_KASSOU,
        SEEN,
    ),
    exact(
        "protamine 32 mg for 8,000 IU: 0.4",
        lambda: protamine("32", "8000"),
        ProtamineClass.PARTIAL,
        AL_KASSOU,
        SEEN,
    ),
    exact(
        "protamine 48.1 mg for 8,000 IU",
        lambda: protamine("48.1", "8000"),
        ProtamineClass.UNCLASSIFIED,
        AL_KASSOU,
        SEEN,
    ),
    exact(
        "ACT 300 s, ceiling equal to the target",
        lambda: anticoagulation.act_standing(D(300), D(300), D(300)),
        ActStanding.IN_RANGE,
        "ceiling passed only above it",
        PRACTICE,
    ),
    refused("protamine without heparin", lambda: protamine("50", "0"), AL_KASSOU, SEEN),
    exact(
        "ACT 299 s of 300",
        lambda: anticoagulation.act_standing(D(299), D(300)),
        ActStanding.BELOW_TARGET,
        ACT_2012,
        SECONDARY,
    ),
    exact(
        "ACT 300 s of 300",
        lambda: anticoagulation.act_standing(D(300), D(300)),
        ActStanding.IN_RANGE,
        ACT_2012,
        SECONDARY,
    ),
    exact(
        "ACT 350 s, ceiling 350",
        lambda: anticoagulation.act_standing(D(350), D(300), D(350)),
        ActStanding.IN_RANGE,
        "ceiling passed only above it",
        PRACTICE,
    ),
    exact(
        "ACT 351 s, ceiling 350",
        lambda: anticoagulation.act_standing(D(351), D(300), D(350)),
        ActStanding.ABOVE_RANGE,
        "ceiling passed only above it",
        PRACTICE,
    ),
    exact(
        "baseline ACT 174 s",
        lambda: anticoagulation.baseline_act_is_raised(D(174)),
        False,
        "Bernelli, JACC Cardiovasc Interv 2014",
        SEEN,
    ),
    exact(
        "baseline ACT 175 s",
        lambda: anticoagulation.baseline_act_is_raised(D(175)),
        True,
        "Bernelli, JACC Cardiovasc Interv 2014",
        SEEN,
    ),
)

FIGURES: tuple[Check, ...] = (*KIDNEY, *CONTRAST, *ANTICOAGULATION)
