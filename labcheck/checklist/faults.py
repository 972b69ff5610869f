"""Collecting the faults of a checklist: what names exist, and what names something that does not."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Protocol

from labcheck.checklist.complaint import Complaint, nearest
from labcheck.checklist.model import Checklist, Option

Where = tuple[str, ...]


class _HasId(Protocol):
    @property
    def id(self) -> str: ...


@dataclass(slots=True)
class Faults:
    """The faults found so far in one checklist, and the names that its parts may refer to."""

    checklist: Checklist
    file: str
    found: list[Complaint] = field(default_factory=list)

    def add(self, where: Where, text: str, close: str | None = None) -> None:
        self.found.append(Complaint(self.file, where, text, close))

    def ids(self, table: str) -> list[str]:
        """The ids of one table of the checklist, as in ``ids("drug")``."""
        return [thing.id for thing in getattr(self.checklist, table)]

    def must_exist(self, where: Where, key: str, table: str, id_: str | None) -> bool:
        """Whether ``id_`` is in ``table``; complains where it is not. None counts as nothing asked for."""
        if id_ is None or id_ in self.ids(table):
            return id_ is not None
        close = nearest(id_, self.ids(table))
        self.add((*where, f"key {key}"), f'there is no {table} "{id_}" in this checklist', close)
        return False

    def must_be_among(
        self, where: Where, key: str, words: Iterable[str], right: Iterable[str], of: str
    ) -> None:
        """Complains about each of ``words`` that is not one of ``right``, the words of ``of``."""
        known = list(right)
        for word in words:
            if word not in known:
                self.add((*where, f"key {key}"), f'"{word}" is not one of the {of}', nearest(word, known))

    def unique(self, where: Where, table: str, things: Iterable[_HasId]) -> None:
        for id_, count in Counter(thing.id for thing in things).items():
            if count > 1:
                self.add((*where, f"{table} {id_}", "key id"), f"is used {count} times; an id must be unique")

    def in_order(self, where: Where, low: object, high: object) -> None:
        """Complains where a range is upside down."""
        if low is not None and high is not None and low > high:  # type: ignore[operator]
            self.add((*where, "key low"), f"{low} is above high ({high})")

    def plain_options(self, where: Where, options: tuple[Option, ...]) -> None:
        """Options of anything but a decision: unique, and without effect on stages."""
        self.unique(where, "option", options)
        for option in options:
            if option.opens or option.skips:
                self.add((*where, f"option {option.id}"), "opens and skips belong to a decision's options")
