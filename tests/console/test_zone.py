"""What a zone sends to the terminal: the rows, and of the rows the columns, that differ."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st
from textual.content import Content, Span

from labcheck.console.zone import _changed, _rows
from labcheck.console.zones.layout import RENDER, ZONES
from tests.console.live import in_a_loop, press, running, screen_of, text_of
from tests.console.zones.drawing import zone
from tests.console.zones.scenes import SCENES

CELLS = st.text(alphabet="ab ", min_size=12, max_size=12)
SPANS = st.lists(st.tuples(st.integers(0, 11), st.integers(1, 5), st.sampled_from(["bold", "red"])), max_size=3)


def row(text: str, spans: list[tuple[int, int, str]]) -> tuple[str, tuple[Span, ...]]:
    return text, tuple(Span(at, min(12, at + size), style) for at, size, style in sorted(spans))


def painted(line: tuple[str, tuple[Span, ...]], at: int) -> tuple[str, tuple[str, ...]]:
    """One cell as it looks: its character and what it is painted with."""
    return line[0][at], tuple(str(s.style) for s in line[1] if s.start <= at < s.end)


@given(CELLS, CELLS, SPANS, SPANS)
def test_outside_the_columns_that_are_sent_again_nothing_differs(
    one: str, other: str, spans: list[tuple[int, int, str]], others: list[tuple[int, int, str]]
) -> None:
    before, after = row(one, spans), row(other, others)
    start, end = _changed([before], [after], 0, 12)
    for at in [*range(start), *range(end, 12)]:
        assert painted(before, at) == painted(after, at)


def test_the_rows_of_every_zone_are_those_of_its_drawing() -> None:
    for scene in SCENES.values():
        shown = scene()
        for name in ZONES:
            content: Content = RENDER[name](replace(shown, plain=False), 80, 8)
            whole = content.split("\n", allow_blank=True)
            rows = _rows(content)
            assert [text for text, _ in rows] == [line.plain for line in whole]
            assert [list(spans) for _, spans in rows] == [list(line.spans) for line in whole]


@in_a_loop
async def test_the_stage_and_its_clock_are_one_drawing_in_two_parts() -> None:
    for size in ((80, 24), (120, 40), (200, 60), (40, 12)):
        async with running(size) as pilot:
            await press(pilot, "enter")
            screen = screen_of(pilot)
            left, right = screen._zones["now"], screen._zones["clock"]
            width = left.size.width + right.size.width
            assert (width, left.size.height) == (size[0], right.size.height)
            drawn = zone(screen.view(), "now", size).plain.split("\n")
            for y in range(left.size.height):
                joined = left.render_line(y).text + right.render_line(y).text
                assert joined == drawn[y].ljust(width)
            assert text_of(pilot)
