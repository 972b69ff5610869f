"""Reading a checklist from its TOML text. Text comes in, a checked model goes out; no file is opened here."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping
from typing import Any, TypeVar, get_args

from pydantic import BaseModel, ValidationError

from labcheck.checklist.checking import complaints
from labcheck.checklist.complaint import ChecklistError, Complaint, nearest, shown
from labcheck.checklist.model import Checklist
from labcheck.checklist.toml_text import parse_toml

MOST_COMPLAINTS = 20
"""A file with more faults than this is told the first ones: they tend to share a cause."""

_M = TypeVar("_M", bound=BaseModel)


def digest(text: bytes | str) -> str:
    """SHA-256 (hex) of the exact bytes of a checklist; text is taken as UTF-8."""
    exact = text if isinstance(text, bytes) else text.encode("utf-8", "surrogatepass")
    return hashlib.sha256(exact).hexdigest()


def read_checklist(text: bytes | str, name: str) -> Checklist:
    """The checklist that ``text`` holds; ``name`` is the file's name for complaints.

    Raises ``ChecklistError`` whose complaints name file, stage, step, key and the nearest right spelling.
    """
    checklist = fit(Checklist, parse_toml(text, name), name)
    if found := complaints(checklist, name):
        raise ChecklistError(_at_most(found, name))
    return checklist


def fit(model: type[_M], data: Mapping[str, Any], name: str) -> _M:
    """``data`` as a strict model, or ``ChecklistError`` with one complaint for every misfit."""
    try:
        return model.model_validate(data)
    except ValidationError as error:
        faults = [
            fault for fault in error.errors(include_url=False, include_input=False) if _own(fault, data)
        ]
        found = tuple(_complaint(fault, data, model, name) for fault in faults[:MOST_COMPLAINTS])
        left = len(faults) - len(found)
        raise ChecklistError(found + _more(left, name)) from None


def _own(fault: Any, data: Any) -> bool:
    """Whether a fault stands by itself. A list whose entries are all faulty is called too short as well."""
    if fault["type"] != "too_short":
        return True
    for part in fault["loc"]:
        data = data[part]
    return bool(len(data) < fault["ctx"]["min_length"])


def _at_most(found: tuple[Complaint, ...], name: str) -> tuple[Complaint, ...]:
    return found[:MOST_COMPLAINTS] + _more(len(found) - MOST_COMPLAINTS, name)


def _more(left: int, name: str) -> tuple[Complaint, ...]:
    return (Complaint(name, (), f"and {left} more faults; mend these first"),) if left > 0 else ()


def _complaint(fault: Any, data: Mapping[str, Any], model: type[BaseModel], name: str) -> Complaint:
    where, value, keys = _place(fault["loc"], data, model)
    kind, context = fault["type"], fault.get("ctx", {})
    close = None
    if kind == "extra_forbidden":
        key = str(fault["loc"][-1])
        close = nearest(key, keys)
        text = "is not a key here" if close else f"is not a key here; the keys are {', '.join(keys)}"
    elif kind == "literal_error":
        words = re.findall(r"'([^']*)'", context["expected"])
        close = nearest(value, words) if isinstance(value, str) else None
        text = f"may be {_either(words or [context['expected']])}, not {_quoted(value)}"
    else:
        text = _words_for(kind, context, value, fault["msg"])
    return Complaint(name, where, text, close)


def _place(
    loc: tuple[str | int, ...], data: Any, model: type[BaseModel]
) -> tuple[tuple[str, ...], Any, list[str]]:
    """Where a fault is, in the author's words; the value there; and the keys that are right there."""
    where: list[str] = []
    here: type[BaseModel] | None = model
    keys = _keys(model)
    for number, part in enumerate(loc):
        if isinstance(part, int):
            if not isinstance(data, tuple) or part >= len(data):
                break
            data = data[part]
            title = data.get("id") if isinstance(data, Mapping) else None
            table = where.pop().removeprefix("key ") if where else "entry"
            where.append(f"{table} {title}" if isinstance(title, str) else f"{table} number {part + 1}")
        elif isinstance(data, Mapping):
            keys = _keys(here) if here else []
            where.append(f"key {part}")
            field = _field(here, part) if here else None
            here = _model_in(field) if field is not None else None
            data = data.get(part)
        elif number:
            break  # pydantic names the arm of a union here, which means nothing to an author
    return tuple(where), data, keys


def _keys(model: type[BaseModel]) -> list[str]:
    return [field.alias or key for key, field in model.model_fields.items()]


def _field(model: type[BaseModel], key: str) -> Any:
    return next((f.annotation for k, f in model.model_fields.items() if (f.alias or k) == key), None)


def _model_in(annotation: Any) -> type[BaseModel] | None:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    return next((found for arg in get_args(annotation) if (found := _model_in(arg))), None)


_WORDS = {
    "missing": "must be given",
    "string_type": "must be text in quotes",
    "int_type": "must be a whole number",
    "bool_type": "must be true or false",
    "tuple_type": "must be a list in square brackets",
    "model_type": "must be a table",
    "model_attributes_type": "must be a table",
    "decimal_type": "must be a number",
    "is_instance_of": "must be a number",
    "string_too_short": "must not be empty",
    "finite_number": "must be a finite number",
}
_PATTERNS = {
    r"^[a-z][a-z0-9_]{0,39}$": "small letters, digits and underscores, a letter first, 40 at most",
    r"^[A-Z0-9 \-]{1,12}$": "1 to 12 capitals A to Z, digits, spaces and hyphens",
    r"^[a-z][a-z0-9_]{0,39}\.[a-z][a-z0-9_]{0,39}$": "a step named as stage.step",
    r"^[a-z]{2,3}(-[A-Za-z0-9]{2,8})*$": "a language tag such as en or pt-BR",
    r"^[a-z][a-z0-9_.]{2,60}$": "a limit's name: small letters, digits, underscores and full stops",
}


def _words_for(kind: str, context: Mapping[str, Any], value: Any, message: str) -> str:
    """What is wrong, said to somebody who has never met the validating library."""
    if kind in _WORDS:
        return f"{_WORDS[kind]}{'' if kind == 'missing' else f', not {_quoted(value)}'}"
    if kind == "string_pattern_mismatch":
        asked = _PATTERNS.get(context["pattern"], f"text that matches {context['pattern']}")
        return f"must be {asked}, not {_quoted(value)}"
    if kind == "string_too_long":
        return f"must have at most {context['max_length']} characters"
    if kind == "too_short":
        return f"must have at least {context['min_length']} entries"
    if kind == "too_long":
        return f"must have at most {context['max_length']} entries"
    if kind == "value_error":
        return str(context["error"])
    return shown(message.removeprefix("Input should be "))


def _either(words: list[str]) -> str:
    return f"{', '.join(words[:-1])} or {words[-1]}" if len(words) > 1 else words[0]


def _quoted(value: Any) -> str:
    if isinstance(value, str):
        return f'"{shown(value)}"'
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, Mapping):
        return "a table"
    if isinstance(value, tuple):
        return "a list"
    return shown(value)
