"""What the plan so far comes to, in the order that fits the field being typed. No widget."""

from __future__ import annotations

from collections.abc import Mapping

from labcheck.caselog.citing import Told
from labcheck.caselog.clinical import plan_lines
from labcheck.checklist.model import Checklist
from labcheck.checklist.plan import Plan
from labcheck.console import plan_form

_ANATOMY = ("anatomy", "rule", "feature")
_PROJECTIONS = ("projections", "view")


def so_far(checklist: Checklist, values: Mapping[str, str], typing: str) -> tuple[Told, ...]:
    """The lines of the plan as it stands; the field being typed is left out while it is half a number."""
    plan = plan_form.plan_from(checklist, values)
    if isinstance(plan, str):
        plan = plan_form.plan_from(checklist, {k: v for k, v in values.items() if k != typing})
    return in_order(plan_lines(plan), typing) if isinstance(plan, Plan) else ()


def in_order(lines: tuple[Told, ...], typing: str) -> tuple[Told, ...]:
    """Those that the field is about first, and among them what is known before what is missing."""
    return tuple(sorted(lines, key=lambda told: (not _about(told, typing), told.missing)))


def _about(told: Told, field_id: str) -> bool:
    kind, _, rest = field_id.partition(".")
    head, _, tail = told.id.partition(":")
    if kind == "ct":
        return head in _ANATOMY and tail.partition(":")[0] == rest.partition(".")[0]
    if kind in ("view", "hinge", "perpendicular"):
        return head in _PROJECTIONS
    if kind == "signs":
        return head in _ANATOMY
    return head not in _ANATOMY and head not in _PROJECTIONS
