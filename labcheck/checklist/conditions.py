"""Plain conditions and named points in time. There is no expression language, on purpose:
a nurse must be able to read a hold aloud."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from labcheck.checklist.words import Number, Strict, Word

StepName = Annotated[str, Field(pattern=r"^[a-z][a-z0-9_]{0,39}\.[a-z][a-z0-9_]{0,39}$")]
"""A step named as ``stage.step``."""

SUBJECTS = ("step", "stage", "each_cusp", "reading", "tally", "decision")


class Condition(Strict):
    """One thing that must be true. Exactly one subject:

    - ``step`` (``stage.step``) was answered done, or with one of ``is``;
    - ``stage`` is done (on the same cusp where it is per cusp);
    - ``each_cusp``: that stage is done on every target cusp that was not abandoned;
    - ``reading`` latest value ``at_least`` / ``at_most``, taken ``within_min`` minutes;
    - ``tally`` ``at_least`` / ``at_most``;
    - ``decision`` was made, and is one of ``is`` where given.
    """

    step: StepName | None = None
    stage: Word | None = None
    each_cusp: Word | None = None
    reading: Word | None = None
    tally: Word | None = None
    decision: Word | None = None
    is_: Annotated[tuple[Word, ...], Field(alias="is")] = ()
    at_least: Number | None = None
    at_most: Number | None = None
    within_min: Number | None = None

    @property
    def subject(self) -> str:
        """The one subject that is set."""
        return next(name for name in SUBJECTS if getattr(self, name) is not None)

    @model_validator(mode="after")
    def _one_subject(self) -> Condition:
        named = [name for name in SUBJECTS if getattr(self, name) is not None]
        if len(named) != 1:
            raise ValueError(f"needs exactly one of {', '.join(SUBJECTS)}; it has {len(named)}")
        if self.is_ and named[0] not in ("step", "decision"):
            raise ValueError("'is' belongs to a step or a decision")
        if (self.at_least is not None or self.at_most is not None) and named[0] not in ("reading", "tally"):
            raise ValueError("at_least and at_most belong to a reading or a tally")
        if self.within_min is not None and named[0] != "reading":
            raise ValueError("within_min belongs to a reading")
        return self


class Point(Strict):
    """A named moment of a case: the start or end of a watch or an interval.

    ``event`` says what is looked for, the other keys narrow it, ``which`` picks among several:

    - ``stage.opened`` / ``stage.closed`` of ``stage``;
    - ``attempt.opened``: a try in ``stage`` began;
    - ``attempt``: the moment an attempt in ``stage`` took effect (end of its last energy burst, or its
      result where it had none), with one of ``outcome``;
    - ``reading`` (``at_least`` narrows it), ``sample`` (sent), ``dose`` of ``drug``, ``run.started``,
      ``run.stopped`` of ``run``, ``step`` (``stage.step``) answered, ``bailout.opened``, ``case.opened``,
      ``case.sealed``.
    """

    event: Literal[
        "stage.opened",
        "stage.closed",
        "attempt.opened",
        "attempt",
        "reading",
        "sample",
        "dose",
        "run.started",
        "run.stopped",
        "step",
        "bailout.opened",
        "case.opened",
        "case.sealed",
    ]
    stage: Word | None = None
    outcome: tuple[Word, ...] = ()
    reading: Word | None = None
    at_least: Number | None = None
    drug: Word | None = None
    run: Word | None = None
    step: StepName | None = None
    bailout: Word | None = None
    which: Literal["first", "last"] = "first"
