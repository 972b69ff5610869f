"""Text made to act, in every field that takes text; the fields are found in the models, never listed by hand.

A field is open when it takes at least one of these texts. A new text field is open on the day it is written, and
is planted from then on.
"""

from __future__ import annotations

import json
import types
import unicodedata
from collections.abc import Iterator
from decimal import Decimal
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from pydantic import BaseModel, TypeAdapter, ValidationError

from labcheck.ledger.canonical import NotCanonical, encode

ACTING: dict[str, str] = {
    "escape": "=9+9\x1b]0;Zqesc OWNED\x07\x1b[2J\x1b[31mZqesc\x9b5m\x9d0;c1\x9c\x90q\x9c\x00\x7f",
    "markup": "@SUM(1)[@click=app.bell]Zqmark[/][B2\\[/RED][bold on red]{x}%s",
    "page": "+1<img src=x onerror=alert(1)>Zqpage</script><script>a()</script>&lt;\"'`",
    "turned": "-2\u202eZqturned\u2066\u2069\u200b\u200d\u200e\u061c\ufeff\u2028\u2029\U000e0041 \u00e7",
    "lines": "\tZqlines\r\n=HYPERLINK(\"x\")\nnext\x0b\x0c\x85",
}
"""What each plays at, with a word of its own by which it is found again. NFC, as the ledger demands."""

TAG = "Zq"
SOFT = ("markup", "page")
"""Those without a control or direction sign: a checklist's file can hold them."""

CONTROLS = frozenset([*range(0x09), 0x0B, 0x0C, *range(0x0D, 0x20), *range(0x7F, 0xA0)])
TURNING = frozenset([0x061C, 0x200E, 0x200F, *range(0x202A, 0x202F), *range(0x2066, 0x206A)])
WIDTHLESS = frozenset([0x200B, 0x200C, 0x200D, 0x2028, 0x2029, 0x2060, 0xFEFF, *range(0xE0000, 0xE0080)])
STEERING = CONTROLS | TURNING | WIDTHLESS
"""What may never reach a terminal out of somebody's text. Tab and newline are the writer's own affair."""
SMALLEST = (False, 1, 20, Decimal(1), Decimal(30), Decimal(120), "N1", "x", "en", "AAAA-AA", "0" * 32, "0" * 64)
JOINERS = frozenset({"U+200C", "U+200D"})
"""Some scripts cannot be written without these; they move nothing, so files keep them. Screens leave them out."""


def steering(text: str) -> list[str]:
    """The signs in a text that could act on a terminal, by number."""
    return sorted({f"U+{ord(c):04X}" for c in text if ord(c) in STEERING})


_ADAPTERS: dict[str, TypeAdapter[Any]] = {}


def _adapter(kind: Any) -> TypeAdapter[Any]:
    """One for each type: building them is most of the work here."""
    key = repr(kind)
    if key not in _ADAPTERS:
        _ADAPTERS[key] = TypeAdapter(kind)
    return _ADAPTERS[key]


def takes(field: Any, text: str) -> bool:
    """Does a field of this type take the text?"""
    try:
        _adapter(field).validate_python(text, strict=True)
    except ValidationError:
        return False
    return True


def annotation(field: Any) -> Any:
    """The whole type of a model's field, limits included."""
    return Annotated[field.annotation, *field.metadata] if field.metadata else field.annotation


def parts(kind: Any) -> Iterator[Any]:
    """A type taken apart at its unions; limits stay with the arm that is text."""
    if get_origin(kind) is Annotated:
        inner, *limits = get_args(kind)
        for part in parts(inner):
            yield Annotated[part, *limits] if part is str else part
    elif get_origin(kind) in (Union, types.UnionType):
        for arm in get_args(kind):
            yield from parts(arm)
    else:
        yield kind


def models_in(kind: Any) -> list[type[BaseModel]]:
    """The models a type may hold directly, arms of a union included."""
    return [part for part in parts(kind) if isinstance(part, type) and issubclass(part, BaseModel)]


def is_open(kind: Any) -> bool:
    """Does this type, or the entries of this list, take any of the texts?"""
    for part in parts(kind):
        if get_origin(part) is tuple:
            if any(is_open(inner) for inner in get_args(part) if inner is not Ellipsis):
                return True
        elif (part is str or get_origin(part) is Annotated) and any(takes(part, text) for text in ACTING.values()):
            return True
    return False


def open_fields(model: type[BaseModel], seen: tuple[type[BaseModel], ...] = ()) -> set[tuple[str, str]]:
    """Every open field of a model and of the models inside it, as (model, field)."""
    found: set[tuple[str, str]] = set()
    for name, field in model.model_fields.items():
        kind = annotation(field)
        if is_open(kind):
            found.add((model.__name__, name))
        for part in parts(kind):
            inner = [part] if get_origin(part) is not tuple else [a for a in get_args(part) if a is not Ellipsis]
            for one in inner:
                for below in models_in(one):
                    if below not in seen:
                        found |= open_fields(below, (*seen, below))
    return found


def is_list(kind: Any) -> bool:
    """A list of texts?"""
    return any(get_origin(part) is tuple for part in parts(kind))


class Planter:
    """Makes instances of models in which every open field holds ``text``; ``planted`` collects where it went."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.planted: set[tuple[str, str]] = set()

    def make(self, model: type[BaseModel], **given: Any) -> Any:
        """One instance, everything that is open filled, everything else at its smallest."""
        data: dict[str, Any] = {}
        for name, field in model.model_fields.items():
            if name in given:
                data[name] = given[name]
                continue
            value = self._value(annotation(field))
            if self._holds(value):
                self.planted.add((model.__name__, name))
            if value is not None and (field.is_required() or self._carries(value)):
                data[name] = value
        return model.model_validate(data)

    def _holds(self, value: Any) -> bool:
        return value == self.text or (isinstance(value, tuple) and self.text in value)

    def _carries(self, value: Any) -> bool:
        """Is the text in it, at any depth?"""
        if isinstance(value, BaseModel):
            return any(self._carries(inner) for _, inner in value)
        if isinstance(value, tuple):
            return any(self._carries(inner) for inner in value)
        return bool(value == self.text)

    def _value(self, kind: Any) -> Any:
        """The text where it fits, else something small that fits, else None."""
        arms = list(parts(kind))
        for arm in arms:
            if (arm is str or get_origin(arm) is Annotated) and takes(arm, self.text):
                return self.text
        for arm in arms:
            made = self._small(arm)
            if made is not None:
                return made
        return None

    def _small(self, kind: Any) -> Any:
        if get_origin(kind) is tuple:
            inner = next((a for a in get_args(kind) if a is not Ellipsis), None)
            one = self._value(inner)
            return (one,) if one is not None else ()
        if get_origin(kind) is Literal:
            return get_args(kind)[0]
        if isinstance(kind, type) and issubclass(kind, BaseModel):
            return self.make(kind)
        for small in SMALLEST:
            if takes_exactly(kind, small):
                return small
        return None


def takes_exactly(kind: Any, value: Any) -> bool:
    """Is ``value`` itself, unchanged, of this type?"""
    try:
        return type(found := _adapter(kind).validate_python(value, strict=True)) is type(value) and found == value
    except ValidationError:
        return False


def canonical(text: str) -> bool:
    """Would the ledger keep it?"""
    try:
        encode({"text": text})
    except NotCanonical:
        return False
    return unicodedata.is_normalized("NFC", text)


def as_toml(value: Any) -> str:
    """A value in TOML, in one line. Texts are written with the escapes that JSON and TOML share."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    if isinstance(value, dict):
        return "{" + ", ".join(f"{as_toml(str(k))} = {as_toml(v)}" for k, v in value.items()) + "}"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(map(as_toml, value)) + "]"
    return str(value)


def document(tables: dict[str, Any], under: str = "") -> str:
    """A TOML file: plain values first, then tables, then lists of tables."""
    lines = [f"{as_toml(k)} = {as_toml(v)}" for k, v in tables.items() if not _tabular(v)]
    for key, value in tables.items():
        if not _tabular(value):
            continue
        name = f"{under}{as_toml(key)}"
        rows, brackets = ([value], ("[", "]")) if isinstance(value, dict) else (value, ("[[", "]]"))
        for row in rows:
            lines += ["", f"{brackets[0]}{name}{brackets[1]}", document(row, f"{name}.").rstrip()]
    return "\n".join(lines) + "\n"


def _tabular(value: Any) -> bool:
    return isinstance(value, dict) or (isinstance(value, list) and bool(value) and isinstance(value[0], dict))
