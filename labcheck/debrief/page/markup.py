"""Making HTML and SVG in which data can only ever be text.

Tags and attribute names come from this program, from closed lists; whatever comes from a case goes through
``text`` or an attribute value and is escaped. There is no way to put a script, a link or a style in.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from html import escape

_TAGS = (
    "h1 h2 h3 h4 p div section header footer main table caption thead tbody tr th td ul li span strong br "
    "svg g rect line path polyline polygon circle text tspan title desc defs pattern figure figcaption"
)
TAGS = frozenset(_TAGS.split())
_ATTRIBUTES = (
    "class id lang scope colspan role aria-labelledby aria-label aria-hidden viewBox width height x y x1 x2 y1 "
    "y2 cx cy r rx d points fill stroke stroke-width stroke-dasharray text-anchor font-size font-weight "
    "preserveAspectRatio patternUnits patternTransform data-n data-value"
)
ATTRIBUTES = frozenset(_ATTRIBUTES.split())
EMPTY = frozenset({"br"})
GLUE = "\N{NO-BREAK SPACE}"


@dataclass(frozen=True, slots=True)
class Markup:
    """A finished piece of the page."""

    html: str

    def __add__(self, other: Markup) -> Markup:
        return Markup(self.html + other.html)


def shown(text: str) -> str:
    """Text as a page may show it: what steers or hides (control and direction signs) is written out."""
    if text.isprintable():
        return text
    return "".join(c if c.isprintable() or c in "\n" else f"\\u{ord(c):04x}" for c in text)


def text(data: str) -> Markup:
    """Data as text; a per cent sign stays with its number."""
    return Markup(escape(shown(data), quote=True).replace(" %", f"{GLUE}%"))


def el(tag: str, attributes: Mapping[str, object] | None = None, *children: Markup | str) -> Markup:
    """An element. A plain string among the children is data and is escaped.

    Raises ``ValueError`` on a tag or attribute that the page has no use for.
    """
    if tag not in TAGS:
        raise ValueError(f"{tag} is no tag of the page")
    parts = [f"<{tag}"]
    for name, value in (attributes or {}).items():
        if name not in ATTRIBUTES:
            raise ValueError(f"{name} is no attribute of the page")
        said = number(value) if isinstance(value, int | float) else str(value)
        parts.append(f' {name}="{escape(shown(said), quote=True)}"')
    parts.append(">")
    if tag in EMPTY:
        return Markup("".join(parts))
    parts += [child.html if isinstance(child, Markup) else text(child).html for child in children]
    return Markup(f"{''.join(parts)}</{tag}>")


def number(value: float) -> str:
    """A coordinate with one decimal at most, never in exponent form."""
    said = f"{value:.1f}"
    return said[:-2] if said.endswith(".0") else said


def titled(words: str, *shapes: Markup) -> Markup:
    """Shapes that say what they are when pointed at."""
    return el("g", None, el("title", None, words), *shapes)


def picture(name: str, words: str, width: float, height: float, *shapes: Markup, klass: str = "") -> Markup:
    """An SVG with its accessible name. ``name``: our own word, unique on the page; ``words``: what it shows."""
    return el(
        "svg",
        {
            "viewBox": f"0 0 {number(width)} {number(height)}",
            "role": "img",
            "aria-labelledby": f"{name}-title",
            "class": klass or "chart",
        },
        el("title", {"id": f"{name}-title"}, words),
        *shapes,
    )


def table(
    caption: str, head: tuple[str, ...], rows: list[tuple[Markup | str, ...]], klass: str = ""
) -> Markup:
    """A table with its caption; the first cell of a row names it. "none" where there are no rows."""
    if not rows:
        return el("p", {"class": "none"}, f"{caption}: none")
    heads = (el("th", {"scope": "col"}, one) for one in head)
    body = (
        el("tr", None, el("th", {"scope": "row"}, row[0]), *(el("td", None, cell) for cell in row[1:]))
        for row in rows
    )
    return el(
        "table",
        {"class": klass} if klass else None,
        el("caption", None, caption),
        el("thead", None, el("tr", None, *heads)),
        el("tbody", None, *body),
    )


def time(words: str) -> Markup:
    """A time, duration or range that must not be broken over lines."""
    return el("span", {"class": "time"}, words)


def bullets(lines: list[str]) -> Markup:
    """A list, or "none"."""
    if not lines:
        return el("p", {"class": "none"}, "none")
    return el("ul", None, *(el("li", None, line) for line in lines))
