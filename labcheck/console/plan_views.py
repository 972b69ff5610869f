"""The plan form's part about projections: views planned by hand, hinge points, perpendicular projections."""

from __future__ import annotations

import re
from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from pydantic import ValidationError

from labcheck.caselog.projecting import HINGED, VIEWS, computed_views
from labcheck.checklist.plan import Hinge, Perpendicular, Plan, Projection
from labcheck.checklist.words import CUSP_WORDS, Cusp
from labcheck.reference.figures import Reason

_NUMBER = re.compile(r"[+-]?(\d{1,9}([.,]\d{0,9})?|[.,]\d{1,9})", re.ASCII)
HEADING = "Planned projections"


def number(text: str) -> Decimal | None:
    """A plain number as typed, with a comma or a point, no exponent; None if it is none."""
    return Decimal(text.replace(",", ".")) if _NUMBER.fullmatch(text) else None


def asked(cusps: tuple[Cusp, ...]) -> list[tuple[str, str, str]]:
    """Id, label and unit of the fields: two views a cusp, then what views can be computed from."""
    views = [(f"view.{c}.{v}", f"{CUSP_WORDS[c]}, {v} view", "LAO+ CRA+") for c in cusps for v in VIEWS]
    if not any(cusp in HINGED for cusp in cusps):
        return views
    hinges = [(f"hinge.{c}", f"{CUSP_WORDS[c]} hinge point, x y z", "mm LPS") for c in HINGED]
    known = [(f"perpendicular.{n}", f"perpendicular projection {n}", "LAO+ CRA+") for n in (1, 2)]
    return [*views, *hinges, *known]


def given(values: Mapping[str, str], cusps: tuple[Cusp, ...]) -> dict[str, Any] | str:
    """``projections``, ``hinges`` and ``perpendicular`` of the plan, or one line that says what is wrong."""
    parts: dict[str, list[Any]] = {"projections": [], "hinges": [], "perpendicular": []}
    for id_, label, _ in asked(cusps):
        text = values.get(id_, "").strip()
        if not text:
            continue
        numbers = [number(part) for part in text.split()]
        kind, _, rest = id_.partition(".")
        wanted, like = (3, "12.5 -3 140") if kind == "hinge" else (2, "-12 -18")
        if len(numbers) != wanted or None in numbers:
            count = "three" if wanted == 3 else "two"
            return f'{label}: write {count} numbers such as {like}, not "{text}"'
        try:
            _add(parts, kind, rest, numbers)
        except ValidationError:
            if kind == "hinge":
                return f"{label}: coordinates in mm, up to 5000"
            return f"{label}: LAO or RAO up to 90, cranial or caudal up to 45 degrees"
    return {name: tuple(found) for name, found in parts.items()}


def _add(parts: dict[str, list[Any]], kind: str, rest: str, numbers: list[Decimal | None]) -> None:
    if kind == "hinge":
        x, y, z = numbers
        parts["hinges"].append(Hinge.model_validate({"cusp": rest, "x_mm": x, "y_mm": y, "z_mm": z}))
        return
    angles = {"rao_lao_deg": numbers[0], "cau_cra_deg": numbers[1]}
    if kind == "perpendicular":
        parts["perpendicular"].append(Perpendicular.model_validate(angles))
        return
    cusp, _, view = rest.partition(".")
    parts["projections"].append(Projection.model_validate({"cusp": cusp, "view": view, **angles}))


def computed_for(plan: Plan | str, field_id: str) -> str | None:
    """What the hinge points give for a view's field, as it would be typed; None for other fields or no points."""
    kind, _, rest = field_id.partition(".")
    views = computed_views(plan) if kind == "view" and isinstance(plan, Plan) else Reason("")
    if isinstance(views, Reason):
        return None
    mine = (one for one in views if f"{one.cusp}.{one.view}" == rest and one.projection.within_reach)
    return next((one.typed() for one in mine), None)
