"""The small closed vocabularies and field types that checklist, plan and log share."""

from __future__ import annotations

from decimal import Decimal, InvalidOperation
from typing import Annotated, Any, Literal

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    PlainSerializer,
    StringConstraints,
    ValidationInfo,
)

Cusp = Literal["left", "right", "noncoronary", "fused", "anterior_mitral"]
"""What is split: a coronary cusp, the fused leaflet of a bicuspid valve, or the anterior mitral leaflet."""

Ostium = Literal["left", "right"]
Substrate = Literal["native", "surgical", "transcatheter"]
Sex = Literal["female", "male"]
Mark = Literal["seen", "secondary", "memory", "practice", "derived"]
"""How well a number is sourced: read there, read second-hand, from memory, common practice, or computed."""

CUSP_WORDS: dict[str, str] = {
    "left": "left",
    "right": "right",
    "noncoronary": "non-coronary",
    "fused": "fused",
    "anterior_mitral": "anterior mitral",
}


def _exact(value: Any, info: ValidationInfo) -> Any:
    """TOML whole numbers are welcome where a decimal is asked for; true and floats are not.

    A float has already lost the digits the author wrote, so readers must hand decimals over. In JSON a decimal
    is a string, and only there is a string one.
    """
    if info.mode == "json" and isinstance(value, str):
        try:
            return Decimal(value)
        except InvalidOperation:
            raise ValueError("is not a decimal number") from None
    if isinstance(value, int) and not isinstance(value, bool):
        return Decimal(value)
    return value


def _plainly(value: Decimal) -> str:
    """Without an exponent, so that what is read back is spelt as it was written."""
    return f"{value:f}"


def _finite(value: Decimal) -> Decimal:
    if not value.is_finite():
        raise ValueError("must be a finite number")
    if abs(value) >= Decimal(10) ** 12 or (value != 0 and abs(value) < Decimal(10) ** -9):
        raise ValueError("is outside any sensible size")
    return value


Number = Annotated[
    Decimal,
    BeforeValidator(_exact),
    AfterValidator(_finite),
    PlainSerializer(_plainly, return_type=str, when_used="json"),
]
Word = Annotated[str, StringConstraints(pattern=r"^[a-z][a-z0-9_]{0,39}$")]
"""An identifier in a checklist: small letters, digits and underscores."""
Line = Annotated[str, StringConstraints(min_length=1, max_length=200)]
Text = Annotated[str, StringConstraints(max_length=2000)]
Big = Annotated[str, StringConstraints(pattern=r"^[A-Z0-9 \-]{1,12}$")]
"""A label drawn in block letters: at most twelve capitals."""


class Strict(BaseModel):
    """Base of every model that is read from a file or from the ledger."""

    model_config = ConfigDict(strict=True, frozen=True, extra="forbid", defer_build=True)
