"""WCAG 2.2, success criteria 1.4.3 (4.5 : 1 for text) and 1.4.11 (3 : 1 for graphics).

Relative luminance and contrast ratio as WCAG 2.2 defines them (W3C Recommendation, 2023,
glossary).
"""

import re
from pathlib import Path

import pytest

import dashboards

STYLE = (Path(dashboards.__file__).parent / "static" / "style.css").read_text()
LIGHT, DARK = (
    dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{6})", block))
    for block in re.findall(r":root \{(.*?)\}", STYLE, re.DOTALL)
)
TEXTS = ["ink", "soft", "link", "dry", "damp", "cold", "warm", "unknown", "alarm"]
GRAPHICS = ["humidity", "temperature", "wall", "alarm", "dry", "damp", "cold", "warm", "unknown"]


def luminance(colour: str) -> float:
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    red, green, blue = (p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_contrast_is_reckoned_as_the_standard_says() -> None:
    """Black on white is 21 : 1 by definition; #767676 on white is the usual 4.54 : 1."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0, abs=1e-9)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.01)  # two decimals known


@pytest.mark.parametrize("palette", [LIGHT, DARK], ids=["light", "dark"])
@pytest.mark.parametrize("ground", ["paper", "sheet", "grid"])
@pytest.mark.parametrize("text", TEXTS)
def test_text_stands_out(palette: dict[str, str], ground: str, text: str) -> None:
    assert contrast(palette[text], palette[ground]) >= 4.5


@pytest.mark.parametrize("palette", [LIGHT, DARK], ids=["light", "dark"])
@pytest.mark.parametrize("graphic", GRAPHICS)
def test_graphics_stand_out(palette: dict[str, str], graphic: str) -> None:
    assert contrast(palette[graphic], palette["paper"]) >= 3.0


@pytest.mark.parametrize("palette", [LIGHT, DARK], ids=["light", "dark"])
@pytest.mark.parametrize("line", ["humidity", "temperature", "alarm", "dew-point"])
def test_lines_stand_out_from_their_band(palette: dict[str, str], line: str) -> None:
    assert contrast(palette[line], palette["band"]) >= 3.0


@pytest.mark.parametrize("palette", [LIGHT, DARK], ids=["light", "dark"])
@pytest.mark.parametrize("line", ["humidity", "temperature"])
def test_what_is_expected_stands_out_from_its_band(palette: dict[str, str], line: str) -> None:
    assert contrast(palette[line], palette["expected"]) >= 3.0
    assert contrast(palette["soft"], palette["expected"]) >= 4.5


@pytest.mark.parametrize("palette", [LIGHT, DARK], ids=["light", "dark"])
def test_buttons_can_be_read(palette: dict[str, str]) -> None:
    assert contrast(palette["on-button"], palette["button"]) >= 4.5


@pytest.mark.parametrize("palette", [LIGHT, DARK], ids=["light", "dark"])
@pytest.mark.parametrize("stage", ["one", "two", "wrapped", "cold"])
def test_stages_of_the_year_stand_out_and_carry_their_names(
    palette: dict[str, str], stage: str
) -> None:
    assert contrast(palette[f"stage-{stage}"], palette["paper"]) >= 3.0
    assert contrast(palette[f"on-stage-{stage}"], palette[f"stage-{stage}"]) >= 4.5


def test_both_palettes_name_the_same_colours() -> None:
    assert LIGHT.keys() == DARK.keys()
