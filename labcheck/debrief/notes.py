"""What a debrief wrote down: learning points and actions, beside the case and never inside its sealed log.

Every note stands for good in an append-only list, each line naming the digest of the one before it. An action
is done, or given up with a reason, by a further note. Notes name roles and never people, and rank nobody.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Annotated, Literal, Self

from pydantic import AfterValidator, Field, model_validator

from labcheck.caselog.case import Case
from labcheck.caselog.clockwords import date_words
from labcheck.caselog.stamps import Moment
from labcheck.checklist.words import Strict
from labcheck.ledger.canonical import encode

NoteKind = Literal["learned", "action", "done", "given_up"]
TAG = b"labcheck-debrief-note-v1"
FIRST_PREV = "0" * 64
SHORTEST, LONGEST = 3, 300
"""Letters of a note."""
COMMON_ROLES = ("team", "operator", "assistant", "nurse", "anaesthesia", "echo", "technician", "manager")

_TITLED = re.compile(r"\b(?:Dr|Prof|Professor|Mr|Mrs|Ms|Miss|Sister|Doctor)\b\.?\s+\w", re.IGNORECASE)


def _fair(text: str) -> str:
    if not SHORTEST <= len(text) <= LONGEST:
        raise ValueError(f"must take {SHORTEST} to {LONGEST} letters")
    if not text.isprintable() or text != " ".join(text.split()):
        raise ValueError("must be one line of printable text")
    if re.search(r"\d{8,}", text):
        raise ValueError("holds a number like a patient's or a date of birth; leave it out")
    if _TITLED.search(text):
        raise ValueError("names a person; say the role instead")
    return text


def _day(text: str) -> str:
    try:
        exact = date.fromisoformat(text).isoformat() == text
    except ValueError:
        exact = False
    if not exact:
        raise ValueError("is not a date that exists; write it as 2031-04-30")
    return text


Fair = Annotated[str, AfterValidator(_fair)]
Role = Annotated[str, Field(pattern=r"^[a-z][a-z ]{1,29}$")]
"""A role in small letters, so that a name does not fit by accident."""
Day = Annotated[str, AfterValidator(_day)]


class Note(Strict):
    """One line of the list. ``n`` counts over all cases from 1; ``at``: when it was written.

    ``owner`` and ``by`` (a day) belong to actions; ``target``: the action that is done or given up.
    """

    v: Literal[1] = 1
    n: Annotated[int, Field(ge=1, le=2**31)]
    prev: Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]
    at: Moment
    case: Annotated[str, Field(pattern=r"^[A-Z0-9]{4}-[A-Z0-9]{2}$")]
    kind: NoteKind
    text: Fair
    owner: Role | None = None
    by: Day | None = None
    target: Annotated[int, Field(ge=1)] | None = None

    @model_validator(mode="after")
    def _whole(self) -> Self:
        if (self.kind == "action") != (self.owner is not None):
            raise ValueError("an action needs its owner's role, and only an action has one")
        if self.by is not None and self.kind != "action":
            raise ValueError("only an action has a day")
        if (self.kind in ("done", "given_up")) != (self.target is not None):
            raise ValueError("what is done or given up is an action, named by its number")
        return self

    @property
    def body(self) -> bytes:
        """The canonical bytes that the digest covers."""
        return encode(self.model_dump(mode="json"))

    @property
    def digest(self) -> str:
        """SHA-256 over the tag and the body, hex."""
        return hashlib.sha256(TAG + b"\0" + self.body).hexdigest()


@dataclass(frozen=True, slots=True)
class Learned:
    """A learning point."""

    n: int
    case: str
    text: str

    @property
    def words(self) -> str:
        """It in one line."""
        return f"learned: {self.text}  [note {self.n}]"


@dataclass(frozen=True, slots=True)
class Action:
    """An action and what became of it: ``open``, ``done`` or ``given_up``; ``said`` with the latter two."""

    n: int
    case: str
    text: str
    owner: str
    by: str | None
    state: Literal["open", "done", "given_up"] = "open"
    said: str = ""
    noted: str = ""

    def overdue(self, today: str) -> bool:
        """Whether it is open and its day lies before ``today`` ("2031-04-30")."""
        return self.state == "open" and self.by is not None and self.by < today

    @property
    def words(self) -> str:
        """It in one line: what, whose role, by when, and how it stands."""
        when = f"by {self.by}" if self.by else "no date"
        stands = {"open": "OPEN", "done": "done", "given_up": "given up"}[self.state]
        said = f": {self.said}" if self.said else ""
        return f"action: {self.text}; {self.owner}, {when}; {stands}{said}  [note {self.n}]"


@dataclass(frozen=True, slots=True)
class Debriefing:
    """What the notes come to, for one case or for all."""

    learned: tuple[Learned, ...] = ()
    actions: tuple[Action, ...] = ()

    def of(self, case: str) -> Debriefing:
        """Only what belongs to one case."""
        return Debriefing(
            tuple(one for one in self.learned if one.case == case),
            tuple(one for one in self.actions if one.case == case),
        )


def debriefing(notes: Iterable[Note]) -> Debriefing:
    """Fold the list. What a later note says of an action replaces what an earlier one said."""
    learned: list[Learned] = []
    actions: dict[int, Action] = {}
    for note in notes:
        if note.kind == "learned":
            learned.append(Learned(note.n, note.case, note.text))
        elif note.kind == "action":
            noted = date_words(note.at)
            actions[note.n] = Action(note.n, note.case, note.text, note.owner or "", note.by, noted=noted)
        elif note.target in actions:
            was = actions[note.target]
            actions[note.target] = Action(
                was.n, was.case, was.text, was.owner, was.by, note.kind, note.text, was.noted
            )
    return Debriefing(tuple(learned), tuple(actions.values()))


def roles(case: Case) -> tuple[str, ...]:
    """The roles that may own an action of this case: the plan's, the checklist's, and some that all have."""
    owners = [step.owner for stage in case.checklist.stage for step in stage.step if step.owner]
    planned = [role.lower() for role in case.plan.roles] if case.plan is not None else []
    found = dict.fromkeys((*COMMON_ROLES, *planned, *(o.replace("_", " ") for o in owners)))
    return tuple(role for role in found if role != "all" and re.fullmatch(r"[a-z][a-z ]{1,29}", role))
