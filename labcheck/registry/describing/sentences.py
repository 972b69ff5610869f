"""Small pieces of Markdown that several sections of the dictionary need."""

from __future__ import annotations

from collections.abc import Iterable

from pydantic import BaseModel


def listed(words: Iterable[str]) -> str:
    """Words as code, separated by commas."""
    return ", ".join(f"`{word}`" for word in words)


def docstring(model: type[BaseModel]) -> str:
    """What a model says about itself, on one line; in a table a bar would end the cell."""
    return " ".join((model.__doc__ or "").replace("``", "`").split())
