"""Rows for endpoints, as far as the log knows them at exit from the room."""

from __future__ import annotations

from collections.abc import Iterator

from labcheck.caselog.endpoints import Endpoint, endpoints
from labcheck.registry.deriving.frame import Frame
from labcheck.registry.rows.endpoint_words import as_because
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
    return ";".join(as_because(text) for text in one.because) or None
