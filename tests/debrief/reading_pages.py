"""Reading a page back: its elements, its words, and the boxes of the words in its drawings."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET  # the page is our own
from dataclasses import dataclass, field
from html.parser import HTMLParser
from itertools import combinations

from labcheck.debrief.page.placing import LETTER_WIDTH

VOID = {"meta", "br"}


@dataclass
class Read(HTMLParser):
    """Every element with its attributes, the words outside the style, and whether all tags are closed."""

    elements: list[tuple[str, dict[str, str | None]]] = field(default_factory=list)
    words: list[str] = field(default_factory=list)
    open: list[str] = field(default_factory=list)
    comments: int = 0

    def __post_init__(self) -> None:
        super().__init__(convert_charrefs=True)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if "style" not in self.open:
            self.words.append(data)

    def handle_comment(self, data: str) -> None:
        self.comments += 1


def read(page: bytes) -> Read:
    """The page, parsed as a browser's first pass would."""
    found = Read()
    found.feed(page.decode("utf-8"))
    found.close()
    assert found.open == []
    return found


def words(page: bytes) -> str:
    """All words of the page on one line."""
    return " ".join(" ".join(read(page).words).split())


def drawings(page: bytes) -> list[ET.Element]:
    """Every SVG of the page."""
    return [ET.fromstring(svg) for svg in re.findall(r"<svg.*?</svg>", page.decode("utf-8"), re.DOTALL)]


@dataclass(frozen=True)
class Box:
    """A text's box in a drawing."""

    words: str
    left: float
    top: float
    right: float
    bottom: float


def boxes(svg: ET.Element) -> list[Box]:
    """The boxes of all texts, as wide as a broad font would make them."""
    out = []
    for text in svg.iter("text"):
        size, x, y = (float(text.attrib[name]) for name in ("font-size", "x", "y"))
        said = text.text or ""
        width = len(said) * size * LETTER_WIDTH
        side = {"start": 0.0, "middle": 0.5, "end": 1.0}[text.attrib["text-anchor"]]
        out.append(Box(said, x - side * width, y - 0.75 * size, x + (1 - side) * width, y + 0.2 * size))
    return out


def overlaps(svg: ET.Element) -> list[tuple[str, str]]:
    """Pairs of texts whose boxes overlap."""
    return [
        (a.words, b.words)
        for a, b in combinations(boxes(svg), 2)
        if min(a.right, b.right) - max(a.left, b.left) > 0.01
        and min(a.bottom, b.bottom) - max(a.top, b.top) > 0.01
    ]


def outside(svg: ET.Element) -> list[Box]:
    """Texts that a broad font would take over the edge of the drawing."""
    width, height = map(float, svg.attrib["viewBox"].split()[2:])
    return [
        box
        for box in boxes(svg)
        if box.left < -0.01 or box.right > width + 0.01 or box.top < -0.01 or box.bottom > height + 0.01
    ]
