"""Block letters for what is read from across the room: our own shapes, drawn with blank cells in full colour.

A shape is made of ``#`` (lit) and ``.`` (dark) and is as wide as it needs to be. A lit cell carries its own
letter in the colour of its ground, so that it shows as a solid block where there is colour, and still spells
the word where there is none. No glyph outside ASCII is used: the block elements are two cells wide on some
terminals, and a clock that jumps sideways cannot be read.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

_WIDE = """
A      B      C      D      E      F      G      H      I  J      K      L      M
.####. #####. .##### #####. ###### ###### .##### ##..## ## ....## ##..## ##.... ##...##
##..## ##..## ##.... ##..## ##.... ##.... ##.... ##..## ## ....## ##.##. ##.... ###.###
###### #####. ##.... ##..## #####. #####. ##.### ###### ## ....## ####.. ##.... #######
##..## ##..## ##.... ##..## ##.... ##.... ##..## ##..## ## ##..## ##.##. ##.... ##.#.##
##..## #####. .##### #####. ###### ##.... .##### ##..## ## .####. ##..## ###### ##...##

N      O      P      Q      R      S      T      U      V      W       X      Y      Z
##..## .####. #####. .####. #####. .##### ###### ##..## ##..## ##...## ##..## ##..## ######
###.## ##..## ##..## ##..## ##..## ##.... ..##.. ##..## ##..## ##.#.## .####. ##..## ...##.
###### ##..## #####. ##..## #####. .####. ..##.. ##..## ##..## ####### ..##.. .####. ..##..
##.### ##..## ##.... ##.### ##.##. ....## ..##.. ##..## .####. ###.### .####. ..##.. .##...
##..## .####. ##.... .##### ##..## #####. ..##.. .####. ..##.. ##...## ##..## ..##.. ######

0      1      2      3      4      5      6      7      8      9      :  +      -
.####. ..##.. #####. #####. ##..## ###### .####. ###### .####. .####. .. ...... .....
##..## .###.. ....## ....## ##..## ##.... ##.... ....## ##..## ##..## ## ..##.. .....
##..## ..##.. .####. .####. ###### #####. #####. ...##. .####. .##### .. ###### #####
##..## ..##.. ##.... ....## ....## ....## ##..## ..##.. ##..## ....## ## ..##.. .....
.####. .####. ###### #####. ....## #####. .####. ..##.. .####. .####. .. ...... .....
"""

_NARROW = """
A    B    C    D    E    F    G    H    I J    K    L    M
.##. ###. .### ###. #### #### .### #..# # ...# #..# #... #...#
#..# #..# #... #..# #... #... #... #..# # ...# #.#. #... ##.##
#### ###. #... #..# ###. ###. #.## #### # ...# ##.. #... #.#.#
#..# #..# #... #..# #... #... #..# #..# # #..# #.#. #... #...#
#..# ###. .### ###. #### #... .### #..# # .##. #..# #### #...#

N    O    P    Q    R    S    T     U    V     W     X     Y     Z
#..# .##. ###. .##. ###. .### ##### #..# #...# #...# #...# #...# ####
##.# #..# #..# #..# #..# #... ..#.. #..# #...# #...# .#.#. .#.#. ...#
##.# #..# ###. #..# ###. .##. ..#.. #..# .#.#. #.#.# ..#.. ..#.. .##.
#.## #..# #... #.#. #.#. ...# ..#.. #..# .#.#. ##.## .#.#. ..#.. #...
#..# .##. #... .#.# #..# ###. ..#.. .##. ..#.. #...# #...# ..#.. ####

0    1    2    3    4    5    6    7    8    9    : +   -
.##. ..#. ###. ###. #..# #### .##. #### .##. .##. . ... ...
#..# .##. ...# ...# #..# #... #... ...# #..# #..# # .#. ...
#..# ..#. .##. .##. #### ###. ###. ..#. .##. .### . ### ###
#..# ..#. #... ...# ...# ...# #..# .#.. #..# ...# # .#. ...
.##. .### #### ###. ...# ###. .##. .#.. .##. .##. . ... ...
"""

_SLIM = """
A   B   C   D   E   F   G   H   I J   K   L   M     N    O   P   Q   R   S
.#. ##. ### ##. ### ### ### #.# # ..# #.# #.. #...# #..# ### ##. ### ##. ###
#.# #.# #.. #.# #.. #.. #.. #.# # ..# #.# #.. ##.## ##.# #.# #.# #.# #.# #..
### ##. #.. #.# ##. ##. #.# ### # ..# ##. #.. #.#.# #.## #.# ##. #.# ##. ###
#.# #.# #.. #.# #.. #.. #.# #.# # #.# #.# #.. #...# #..# #.# #.. ### #.# ..#
#.# ##. ### ##. ### #.. ### #.# # ### #.# ### #...# #..# ### #.. ..# #.# ###

T   U   V   W     X   Y   Z   0   1   2   3   4   5   6   7   8   9   : +   -
### #.# #.# #...# #.# #.# ### ### .#. ### ### #.# ### ### ### ### ### . ... ...
.#. #.# #.# #...# #.# #.# ..# #.# ##. ..# ..# #.# #.. #.. ..# #.# #.# # .#. ...
.#. #.# #.# #.#.# .#. .#. .#. #.# .#. ### .## ### ### ### ..# ### ### . ### ###
.#. #.# #.# ##.## #.# .#. #.. #.# .#. #.. ..# ..# ..# #.# .#. #.# ..# # .#. ...
.#. ### .#. #...# #.# .#. ### ### ### ### ### ..# ### ### .#. ### ### . ... ...
"""

_TALL = """
A        B        C        D        E        F        G        H        I  J
..####.. #######. .######. ######.. ######## ######## .######. ##....## ## ......##
.##..##. ##....## ##....## ##...##. ##...... ##...... ##....## ##....## ## ......##
##....## ##....## ##...... ##....## ##...... ##...... ##...... ##....## ## ......##
######## #######. ##...... ##....## ######.. ######.. ##..#### ######## ## ......##
##....## ##....## ##...... ##....## ##...... ##...... ##....## ##....## ## ##....##
##....## ##....## ##....## ##...##. ##...... ##...... ##....## ##....## ## ##....##
##....## #######. .######. ######.. ######## ##...... .######. ##....## ## .######.

K        L        M         N        O        P        Q        R        S        T
##....## ##...... ##.....## ##....## .######. #######. .######. #######. .######. ########
##...##. ##...... ###...### ###...## ##....## ##....## ##....## ##....## ##....## ...##...
##..##.. ##...... ####.#### ####..## ##....## ##....## ##....## ##....## ##...... ...##...
#####... ##...... ##.###.## ##.##.## ##....## #######. ##....## #######. .######. ...##...
##..##.. ##...... ##..#..## ##..#### ##....## ##...... ##..#.## ##..##.. ......## ...##...
##...##. ##...... ##.....## ##...### ##....## ##...... ##...##. ##...##. ##....## ...##...
##....## ######## ##.....## ##....## .######. ##...... .####.## ##....## .######. ...##...

U        V        W         X        Y        Z        0        1        2        3
##....## ##....## ##.....## ##....## ##....## ######## .######. ...##... .######. .######.
##....## ##....## ##.....## .##..##. .##..##. .....##. ##....## ..###... ##....## ##....##
##....## ##....## ##..#..## ..####.. ..####.. ....##.. ##....## .####... ......## ......##
##....## .##..##. ##.###.## ...##... ...##... ...##... ##....## ...##... ....###. ..#####.
##....## .##..##. ####.#### ..####.. ...##... ..##.... ##....## ...##... ..###... ......##
##....## ..####.. ###...### .##..##. ...##... .##..... ##....## ...##... ##...... ##....##
.######. ...##... ##.....## ##....## ...##... ######## .######. .######. ######## .######.

4        5        6        7        8        9        :  +        -
##....## ######## .######. ######## .######. .######. .. ........ .......
##....## ##...... ##....## ......## ##....## ##....## ## ...##... .......
##....## ##...... ##...... .....##. ##....## ##....## ## ...##... .......
######## #######. #######. ....##.. .######. .####### .. ######## #######
......## ......## ##....## ...##... ##....## ......## ## ...##... .......
......## ##....## ##....## ...##... ##....## ##....## ## ...##... .......
......## .######. .######. ...##... .######. .######. .. ........ .......
"""

_SEGMENTS = """
0   1   2   3   4   5   6   7   8   9   : +   -
._. ... ._. ._. ... ._. ._. ._. ._. ._. . ... ...
|.| ..| ._| ._| |_| |_. |_. ..| |_| |_| o _|_ ._.
|_| ..| |_. ._| ..| ._| |_| ..| |_| ._| o .|. ...
"""


@dataclass(frozen=True, slots=True)
class Run:
    """Neighbouring cells of one row that are drawn alike."""

    text: str
    lit: bool


@dataclass(frozen=True, slots=True, eq=False)
class Face:
    """One set of block letters. ``gap`` and ``blank`` are the cells between letters and for a space.

    A ``solid`` face is drawn as filled cells, the other as strokes of ASCII characters.
    """

    name: str
    rows: int
    shapes: Mapping[str, tuple[str, ...]]
    gap: int = 1
    blank: int = 3
    solid: bool = True


def _face(name: str, drawing: str, *, blank: int = 3, solid: bool = True) -> Face:
    shapes: dict[str, tuple[str, ...]] = {}
    for block in drawing.strip("\n").split("\n\n"):
        names, *rows = (line.split() for line in block.splitlines())
        shapes.update(zip(names, zip(*rows, strict=True), strict=True))
    return Face(name, len(next(iter(shapes.values()))), shapes, blank=blank, solid=solid)


TALL = _face("tall", _TALL, blank=5)
WIDE = _face("wide", _WIDE, blank=4)
NARROW = _face("narrow", _NARROW)
SLIM = _face("slim", _SLIM, blank=2)
SEGMENTS = _face("segments", _SEGMENTS, solid=False)
FACES = (TALL, WIDE, NARROW, SLIM, SEGMENTS)
"""Largest first. ``SEGMENTS`` has no letters; ``SLIM`` is for long names on a narrow screen."""


@lru_cache(maxsize=512)
def width_of(face: Face, text: str) -> int | None:
    """How many columns ``text`` takes in that face; None if the face lacks one of its characters."""
    if not text:
        return 0
    total = face.gap * (len(text) - 1)
    for character in text:
        shape = face.shapes.get(character)
        if shape is None and character != " ":
            return None
        total += len(shape[0]) if shape else face.blank
    return total


def face_for(text: str, width: int, rows: int) -> Face | None:
    """The largest face that draws ``text`` within ``width`` columns and ``rows`` rows, else None."""
    for face in FACES:
        needed = width_of(face, text)
        if face.rows <= rows and needed is not None and needed <= width:
            return face
    return None


@lru_cache(maxsize=512)
def spell(face: Face, text: str) -> tuple[tuple[Run, ...], ...]:
    """``text`` in block letters: one tuple of runs for each row, all rows equally wide.

    Raises ``KeyError`` for a character that the face lacks; ``width_of`` tells beforehand.
    """
    return tuple(_row(face, text, row) for row in range(face.rows))


def _row(face: Face, text: str, row: int) -> tuple[Run, ...]:
    cells: list[tuple[str, bool]] = []
    for index, character in enumerate(text):
        if index:
            cells.extend([(" ", False)] * face.gap)
        if character == " ":
            cells.extend([(" ", False)] * face.blank)
            continue
        for cell in face.shapes[character][row]:
            if cell == ".":
                cells.append((" ", False))
            else:
                cells.append((character if face.solid else cell, True))
    return _joined(cells)


def _joined(cells: list[tuple[str, bool]]) -> tuple[Run, ...]:
    runs: list[Run] = []
    for text, lit in cells:
        if runs and runs[-1].lit == lit:
            runs[-1] = Run(runs[-1].text + text, lit)
        else:
            runs.append(Run(text, lit))
    return tuple(runs)
