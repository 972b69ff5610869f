"""What a column means: the marker that rows carry, from which schema, data dictionary and CSV are made."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Any, ClassVar, Literal

from pydantic import Field, GetJsonSchemaHandler, TypeAdapter
from pydantic.fields import FieldInfo
from pydantic.json_schema import JsonSchemaValue
from pydantic_core import CoreSchema

from labcheck.checklist.words import Strict
from labcheck.registry.times import OFFSET, RFC3339_MS

Profile = Literal["hospital", "registry", "shifted"]
"""``hospital`` keeps times, free text and recorder tags; ``registry`` carries none of them; ``shifted`` is
``registry`` with clock times moved by a secret number of whole weeks."""

Only = Literal["", "clock", "hospital"]
"""Who gets a column: everybody, everybody but the registry profile, or the hospital alone."""


@dataclass(frozen=True, slots=True)
class Column:
    """What one column says, in which unit, and which profiles carry it. ``free``: typed by people."""

    says: str
    unit: str | None = None
    free: bool = False
    only: Only = ""

    def leaves(self, profile: Profile) -> bool:
        """Whether this profile carries the column."""
        return profile == "hospital" or self.only == "" or (profile == "shifted" and self.only == "clock")

    def __get_pydantic_json_schema__(
        self, core: CoreSchema, handler: GetJsonSchemaHandler
    ) -> JsonSchemaValue:
        schema = handler(core)
        schema["description"] = f"{self.says} Unit: {self.unit}." if self.unit else self.says
        return schema


class Row(Strict):
    """One row of a table that leaves. Its fields are the columns, in order. ``KEY``: those that name a row."""

    KEY: ClassVar[tuple[str, ...]] = ("case_id",)

    @classmethod
    def columns(cls, profile: Profile) -> tuple[str, ...]:
        """The names of the columns that this profile carries."""
        return tuple(name for name, info in cls.model_fields.items() if column(info).leaves(profile))


def column(info: FieldInfo) -> Column:
    """The marker of a field. Raises ``LookupError`` where a row's field has none."""
    return next(m for m in info.metadata if isinstance(m, Column))


def free(says: str) -> Column:
    """A column of free text: never outside the hospital."""
    return Column(says, free=True, only="hospital")


def inside(says: str, unit: str | None = None) -> Column:
    """A column that stays in the hospital: a tag of a person, a digest, words of the local checklist."""
    return Column(says, unit, only="hospital")


def clock(says: str) -> Column:
    """A clock time: not in the registry profile."""
    return Column(says, only="clock")


Time = Annotated[str, Field(pattern=RFC3339_MS)]
Offset = Annotated[str, Field(pattern=OFFSET)]
Id = Annotated[str, Field(pattern=r"^[A-Z][A-Za-z0-9-]{1,79}$")]
Digest = Annotated[str, Field(pattern=r"^sha256:[0-9a-f]{64}$")]
TextDigest = Annotated[str, Field(pattern=r"^(sha256|keyed):[0-9a-f]{64}$")]
Seconds = Annotated[float, Field(allow_inf_nan=False)]
Count = Annotated[int, Field(ge=0)]


def schema_of(row: type[Strict], *, title: str | None = None) -> dict[str, Any]:
    """JSON Schema of a model as it is written (not as it is read)."""
    schema = TypeAdapter(row).json_schema(mode="serialization")
    if title is not None:
        schema["title"] = title
    return schema
