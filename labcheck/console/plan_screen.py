"""The plan of a new case: a form for the keyboard alone. Only what is wrong stops a case; what is unknown does not."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from textual import events
from textual.content import Content
from textual.screen import Screen

from labcheck.checklist.complaint import ChecklistError
from labcheck.checklist.model import Checklist
from labcheck.checklist.reading import read_checklist
from labcheck.console import plan_form, plan_lines, plan_views
from labcheck.console.bench import Shelf
from labcheck.console.hand import Kind
from labcheck.console.keys import find, printed
from labcheck.console.opening import new_case
from labcheck.console.panels.asking import LineEdit
from labcheck.console.panels.panel import Press
from labcheck.console.plan_form import Field
from labcheck.console.zone import Zone
from labcheck.console.zones.rows import Piece, Rows, fold, inert
from labcheck.ledger.errors import LedgerError

if TYPE_CHECKING:
    from labcheck.caselog.citing import Told
    from labcheck.console.app import Console
    from labcheck.console.theme import PaintName

LABEL = 36
TOLD = " SO FAR, COMPUTED, NOT STORED"
CHECKLIST = "checklist"
USUAL = "electrosurgical"
"""The checklist a new plan starts with where the shelf has it: the commonest technique."""


class PlanScreen(Screen[None]):
    """Fields from top to bottom. Up, Down, Tab move; Left, Right choose; letters and digits are typed; F2 begins."""

    def __init__(self, shelf: Shelf, *, rehearsal: bool, plain: bool = False) -> None:
        super().__init__()
        self.shelf = shelf
        self.rehearsal = rehearsal
        self.plain = plain
        self.names = list(shelf.names())
        self.chosen = 0
        self.at = 0
        self.answer = ""
        self.leaving = False
        self.told_from = 0
        self.told_pages = 1
        self.checklist: Checklist | None = None
        self.text = b""
        self.values: dict[str, str] = {}
        self.edit = LineEdit()
        self._body = Zone("plan")
        self._choose(self.names.index(USUAL) if USUAL in self.names else 0)

    @property
    def console(self) -> Console:
        """The program."""
        return self.app  # type: ignore[return-value]

    def compose(self) -> Any:
        self._body.add_class("zone")
        yield self._body

    def on_mount(self) -> None:
        self._place()

    def on_resize(self, event: events.Resize) -> None:
        self._place()

    def _place(self) -> None:
        size = self.app.size
        self._body.styles.offset = (0, 0)
        self._body.styles.width, self._body.styles.height = size.width, size.height
        self.paint()

    def paint(self) -> None:
        """Draw the form anew."""
        self._body.show(self._draw)

    # --- the form -----------------------------------------------------------------------------------------

    def _choose(self, number: int) -> None:
        """Take another checklist; what was filled in stays where the new one has the field too."""
        if not self.names:
            self.answer = "no checklist was found; give one to labcheck"
            return
        self.chosen = number % len(self.names)
        name = self.names[self.chosen]
        try:
            self.text = self.shelf.text(name)
            self.checklist = read_checklist(self.text, f"{name}.toml")
        except (ChecklistError, OSError) as wrong:
            self.checklist = None
            self.answer = str(wrong)
            return
        first = plan_form.first_values(self.checklist)
        allowed = {f.id: [value for value, _ in f.options] for f in plan_form.fields(self.checklist, first)}
        kept = {k: v for k, v in self.values.items() if not allowed.get(k) or v in allowed[k]}
        self.values = {**first, **kept}

    def _fields(self) -> tuple[Field, ...]:
        options = tuple((name, name) for name in self.names)
        head = Field(CHECKLIST, "checklist", "choice", "Case", options)
        return (head, *plan_form.fields(self.checklist, self.values)) if self.checklist else (head,)

    def _value(self, field: Field) -> str:
        return self.names[self.chosen] if field.id == CHECKLIST and self.names else self.values.get(field.id, "")

    def _words(self, field: Field) -> str:
        value = self._value(field)
        return next((words for option, words in field.options if option == value), value)

    # --- drawing ------------------------------------------------------------------------------------------

    def _draw(self, width: int, height: int) -> Content:
        rows = Rows(width, height, self.plain)
        title = " REHEARSAL: not real " if self.rehearsal else " NEW CASE "
        rows.add(Piece(title), right=(Piece("no names, no patient numbers "),), fill="held")
        fields = self._fields()
        lines = self._lines(fields)
        marked = next(n for n, line in enumerate(lines) if line == self.at)
        told = self._told(rows)
        said = fold(inert(self.answer or self._complaint(), self.plain), max(1, width - 1), 2) or [""]
        room = max(1, rows.left - 1 - len(said) - len(told))
        first = max(0, min(marked - room // 2, len(lines) - room))
        for line in lines[first : first + room]:
            if isinstance(line, str):
                rows.add(Piece(f" {line.upper()}", "label"))
            else:
                self._row(rows, fields[line], line == self.at)
        rows.blank(max(0, rows.left - 1 - len(said) - len(told)))
        for piece in told:
            rows.add(piece)
        for line in said:
            rows.add(Piece(f" {line}", "amber"))
        rows.add(
            Piece(" "), Piece(" F2 ", "held"), Piece(" begin   "), Piece(" Down ", "held"), Piece(" next   "),
            Piece(" Right ", "held"), Piece(" choose   "), Piece(" Esc ", "held"), Piece(" leave"),
        )  # fmt: skip
        return rows.content()

    def _told(self, rows: Rows) -> list[Piece]:
        """What the plan comes to so far: at most a third of the screen, what the marked field is about first.

        PageDown reads on, and begins again after the end.
        """
        if self.checklist is None:
            return []
        lines = plan_lines.so_far(self.checklist, self.values, self._fields()[self.at].id)
        room = (rows.left - 2) // 3
        if not lines or room < 2:
            return []
        folded = [self._told_pieces(told, rows.width) for told in lines]
        pages = _pages([len(pieces) for pieces in folded], room - 1)
        self.told_pages = len(pages)
        first, last = pages[self.told_from % len(pages)]
        place = "" if len(pages) == 1 else f"  {first + 1} to {last} of {len(lines)}, PageDown reads on"
        return [Piece(f"{TOLD}{place}", "label"), *(piece for pieces in folded[first:last] for piece in pieces)]

    def _told_pieces(self, told: Told, width: int) -> list[Piece]:
        paint: PaintName = "quiet" if told.missing else "strong" if told.notice else "text"
        parts = fold(inert(told.words, self.plain), max(10, width - 6), 2)
        return [Piece(f"   {'' if n == 0 else '  '}{part}", paint) for n, part in enumerate(parts)]

    def _lines(self, fields: tuple[Field, ...]) -> list[int | str]:
        lines: list[int | str] = []
        group = ""
        for number, field in enumerate(fields):
            if field.group != group:
                group = field.group
                lines.append(group)
            lines.append(number)
        return lines

    def _row(self, rows: Rows, field: Field, marked: bool) -> None:
        label = Piece(f" {'>' if marked else ' '} {field.label:<{LABEL}}", "strong" if marked else "text")
        unit = Piece(f" {field.unit}" if field.unit else "", "quiet")
        if field.kind == "choice":
            words = self._words(field)
            value: tuple[Piece, ...] = (Piece(f"< {words} >", "held"),) if marked else (Piece(f"  {words}", "text"),)
        elif marked:
            value = (Piece("  "), *self.edit.pieces(max(4, rows.width - LABEL - 20)))
            offered = self._offered(field)
            if offered is not None:
                unit = Piece(f" computed {offered}: Right takes it", "quiet")
        else:
            value = (Piece(f"  {self._value(field)}", "text"),)
        rows.add(label, *value, unit)

    def _offered(self, field: Field) -> str | None:
        """The computed view for an empty view field."""
        if self.checklist is None or self.edit.text or not field.id.startswith("view."):
            return None
        return plan_views.computed_for(plan_form.plan_from(self.checklist, self.values), field.id)

    def _complaint(self) -> str:
        """What is wrong with the plan as it stands; it stops only the beginning, not the typing."""
        if self.checklist is None:
            return ""
        plan = plan_form.plan_from(self.checklist, self.values)
        return plan if isinstance(plan, str) else ""

    # --- the keys -----------------------------------------------------------------------------------------

    bounce_s = 0.0

    @property
    def standing(self) -> object:
        """What the keys are for."""
        return self

    def kind(self, press: Press) -> Kind:
        """What a press would do. Beginning and leaving cannot be taken back: a key held down must do neither."""
        line = find(press.key, "plan")
        return "records" if line is not None and line.id in ("begin", "back", "quit") else "moves"

    def not_taken(self, press: Press, why: str) -> None:
        """Say that a press was not taken."""
        self.answer = f"{printed(press.key, press.character)} NOT TAKEN: {why}"
        self.paint()

    def take(self, press: Press) -> None:
        """One key press."""
        self.console.hand.take(self, press)

    def act(self, press: Press) -> None:
        """What it does."""
        self.answer = ""
        line = find(press.key, "plan")
        name = line.id if line else ""
        leaving, self.leaving = self.leaving, False
        field = self._fields()[self.at]
        if press.key == "enter" or name in ("down", "next_field"):
            self._move(1)
        elif name == "up" or press.key == "shift+tab":
            self._move(-1)
        elif name == "begin":
            self._begin(press)
        elif name == "told_more":
            self.told_from = (self.told_from + (1 if press.key == "pagedown" else -1)) % max(1, self.told_pages)
        elif name == "help":
            self.answer = "Down, Up: lines; Right, Left: choose; type numbers; F2 begins; Esc leaves"
        elif name in ("back", "quit"):
            self._leave(leaving, to_home=name == "back")
        elif field.kind == "choice" and press.key in ("left", "right", "space"):
            self._change(field, -1 if press.key == "left" else 1)
        elif field.kind == "choice":
            self._nothing(press)
        elif press.key == "right" and (offered := self._offered(field)) is not None:
            self.edit.insert(offered)
            self.values[field.id] = self.edit.text
        elif self.edit.key(press):
            before = self.values.get(field.id, "")
            self.values[field.id] = self.edit.text
            if self.edit.text == before:
                self.answer = self.edit.refused(press)
        else:
            self._nothing(press)
        self.paint()

    def _nothing(self, press: Press) -> None:
        """Say that a key has no meaning here, rather than nothing."""
        self.answer = f"{printed(press.key, press.character)} does nothing here"

    def paste(self, text: str) -> None:
        """Into the marked line."""
        field = self._fields()[self.at]
        if field.kind != "choice":
            self.edit.insert(text)
            self.values[field.id] = self.edit.text
            self.paint()

    def _move(self, by: int) -> None:
        fields = self._fields()
        self.told_from = 0
        self.at = (self.at + by) % len(fields)
        field = fields[self.at]
        allowed = None if field.kind == "text" else "0123456789.,-"
        self.edit = LineEdit(self._value(field), limit=40, allowed=allowed)

    def _change(self, field: Field, by: int) -> None:
        if not field.options:
            self.answer = "there is nothing to choose here"
            return
        if field.id == CHECKLIST:
            self._choose(self.chosen + by)
            return
        values = [value for value, _ in field.options]
        now = values.index(self.values[field.id]) if self.values.get(field.id) in values else 0
        self.values[field.id] = values[(now + by) % len(values)]

    def _leave(self, again: bool, *, to_home: bool) -> None:
        if not again:
            self.leaving = True
            self.answer = "once more leaves; what is typed here is lost, no case was opened"
        elif to_home:
            self.console.go_home()
        else:
            self.console.leave()

    def _begin(self, press: Press) -> None:
        if self.checklist is None:
            return
        plan = plan_form.plan_from(self.checklist, self.values)
        if isinstance(plan, str):
            self.answer = plan
            return
        try:
            session = new_case(
                self.console.bench, self.text, plan, press.stamp, rehearsal=self.rehearsal,
                recorder=plan_form.recorder_of(self.values), name=self.names[self.chosen],
            )  # fmt: skip
        except LedgerError as fault:
            self.answer = str(fault)
            return
        self.console.show_case(session)


def _pages(sizes: list[int], room: int) -> list[tuple[int, int]]:
    """From which line to before which one each page goes; a line that is too long has a page of its own."""
    pages: list[tuple[int, int]] = []
    first, used = 0, 0
    for number, size in enumerate(sizes):
        if number > first and used + size > room:
            pages.append((first, number))
            first, used = number, 0
        used += size
    return [*pages, (first, len(sizes))]
