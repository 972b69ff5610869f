"""The colours, measured."""

from __future__ import annotations

import colorsys

import pytest

from labcheck.console import theme


def luminance(colour: str) -> float:
    """Relative luminance, WCAG 2.1, definition of the same name."""

    def linear(channel: int) -> float:
        part = channel / 255
        return part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4

    red, green, blue = (linear(int(colour[i : i + 2], 16)) for i in (1, 3, 5))
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """Contrast ratio, WCAG 2.1, definition of the same name."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_the_formula_gives_the_published_extremes() -> None:
    # WCAG 2.1: "Contrast ratios can range from 1 to 21".
    assert contrast("#000000", "#ffffff") == pytest.approx(21, abs=1e-9)
    assert contrast("#777777", "#777777") == 1
    # The grey commonly given as the lightest that reaches 4.5:1 on white (common practice, no source): 4.54.
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.005)


@pytest.mark.parametrize(("name", "ink", "ground"), theme.pairs(), ids=lambda v: str(v))
def test_every_pair_of_text_and_ground_reaches_seven_to_one(name: str, ink: str, ground: str) -> None:
    # WCAG 2.1, success criterion 1.4.6 (enhanced contrast): 7:1.
    assert contrast(ink, ground) >= 7, name


def test_lines_reach_three_to_one() -> None:
    # WCAG 2.1, success criterion 1.4.11 (non-text contrast): 3:1.
    assert all(contrast(theme.REED, ground) >= 3 for ground in theme.GROUNDS)


def test_the_pairs_of_the_widget_theme_reach_seven_to_one() -> None:
    v = theme.THEME.variables
    shown = [
        (theme.PAPER, theme.NIGHT), (theme.PAPER, theme.DUSK), (theme.MIST, theme.DUSK),
        (v["block-cursor-foreground"], v["block-cursor-background"]),
        (v["block-cursor-blurred-foreground"], v["block-cursor-blurred-background"]),
        (v["input-cursor-foreground"], v["input-cursor-background"]),
        (theme.PAPER, v["input-selection-background"]),
        (v["footer-foreground"], v["footer-background"]),
        (v["footer-key-foreground"], v["footer-background"]),
        (v["text-muted"], theme.NIGHT), (v["text-disabled"], theme.NIGHT),
    ]  # fmt: skip
    for ink, ground in shown:
        assert contrast(ink, ground) >= 7, (ink, ground)


def test_no_colour_of_the_palette_is_red_or_green() -> None:
    for colour in (theme.PAPER, theme.MIST, theme.SKY, theme.AMBER, theme.REED):
        channels = (int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5))
        hue, _, _ = colorsys.rgb_to_hls(*channels)
        assert 20 <= hue * 360 <= 60 or 180 <= hue * 360 <= 260, colour


def test_every_paint_that_asks_for_attention_shows_without_colour() -> None:
    for name in ("held", "wanted", "alarm", "run_open"):
        assert theme.style(name).reverse is True
    assert theme.style("block_stage").reverse is True
