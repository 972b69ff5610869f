"""Rows for endpoints, as far as the log knows them at exit from the room."""

from __future__ import annotations

import re
from collections.abc import Iterator

from labcheck.caselog.endpoints import Endpoint, endpoints
from labcheck.registry.deriving.frame import Frame
from labcheck.registry.rows.endpoints import EndpointRow


def endpoint_rows(frame: Frame) -> Iterator[EndpointRow]:
    """Every endpoint of the case."""
    for place, one in enumerate(endpoints(frame.case), 1):
        yield EndpointRow(
            case_id=frame.case_id,
            place=place,
            endpoint=one.name,
            cusp=one.cusp,
            ostium=one.ostium,
            answer=one.answer,
            value=one.value,
            because=_because(one),
            definition=one.definition,
        )


def _because(one: Endpoint) -> str | None:
    return ";".join(_slug(text) for text in one.because) or None


def _slug(text: str) -> str:
    head, colon, tail = text.partition(":")
    parts = (head, tail) if colon else (head,)
    return ":".join(re.sub(r"[^a-z0-9]+", "_", part.lower()).strip("_") for part in parts)
