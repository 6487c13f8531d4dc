"""The page's colours, computed from its style sheet: contrast, and whose palette they are."""

import re
from importlib.resources import files

import pytest

# Okabe and Ito, "Color Universal Design" (2008), the palette's eight colours.
OKABE_ITO = {"#000000", "#e69f00", "#56b4e9", "#009e73", "#f0e442", "#0072b2", "#d55e00", "#cc79a7"}
COLOURED = ("altitude", "velocity", "acceleration", "good", "bad", "done", "urgent-paper", "caution-paper", "focus")


def declared(block: str) -> dict[str, str]:
    return dict(re.findall(r"--([\w-]+):\s*(#[0-9a-f]{6});", block))


def themes() -> dict[str, dict[str, str]]:
    css = (files("dashboard") / "assets" / "page.css").read_text(encoding="utf-8")
    light, dark = re.findall(r"^:root[^{]*\{(.*?)^\}", css, re.DOTALL | re.MULTILINE)[:2]
    return {"light": declared(light), "dark": declared(light) | declared(dark)}


THEMES = themes()


def luminance(colour: str) -> float:
    """Relative luminance as WCAG 2.2 defines it."""
    channels = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def test_contrast_is_as_wcag_defines_it() -> None:
    """21 for black on white, by WCAG 2.2; #767676 is the well-known lightest grey with 4.5 on white."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#767676", "#ffffff") >= 4.5 > contrast("#777777", "#ffffff")


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize(
    ("ink", "paper", "least"),
    [
        ("ink", "paper", 7.0),
        ("soft", "paper", 7.0),
        ("block-ink", "block", 7.0),
        ("caution-ink", "caution-paper", 7.0),
        ("urgent-ink", "urgent-paper", 7.0),
        # Old data, greyed on purpose: large text, for which 4.5 is WCAG's enhanced contrast (1.4.6).
        ("faint", "paper", 4.5),
        # Lines and signs: 3 (1.4.11).
        ("good", "paper", 3.0),
        ("bad", "paper", 3.0),
        ("done", "paper", 3.0),
        ("altitude", "paper", 3.0),
        ("velocity", "paper", 3.0),
        ("acceleration", "paper", 3.0),
        ("rule", "paper", 3.0),
        ("focus", "paper", 3.0),
    ],
)
def test_text_stands_out_in_full_sun_and_marks_are_seen(theme: str, ink: str, paper: str, least: float) -> None:
    assert contrast(THEMES[theme][ink], THEMES[theme][paper]) >= least


@pytest.mark.parametrize("theme", THEMES)
def test_every_colour_that_means_something_is_of_the_palette_of_okabe_and_ito(theme: str) -> None:
    assert {THEMES[theme][name] for name in COLOURED} <= OKABE_ITO
