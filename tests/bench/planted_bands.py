"""How often the bands of film, wet hours, margin and surface hold the truth of caves that sweat.

Readings of simulated caves are stored, and the bands are those that a maker sees. Each cave is
told without any weighing, by sensors that nobody has checked against a salt.
"""

import tempfile
from collections.abc import Iterator
from pathlib import Path

import numpy as np
from scipy.stats import binomtest  # type: ignore[import-untyped]  # scipy ships no types

from tests.planted_wet_caves import Case, Held, caves

SEEDS = range(1_000, 1_020)
"""Not those by which the bands were mended."""
UNITS = {
    "wet hours": "h",
    "thickest film": "g/m²",
    "lowest margin": "K",
    "margin": "K",
    "surface": "K",
}
LINES = ("margin", "surface")


def rows() -> Iterator[tuple[str, str]]:
    """A label and a sentence with figures for each band."""
    with tempfile.TemporaryDirectory() as folder:
        found = list(caves(Path(folder), SEEDS))
    held = [each.held() for each in found]
    wet = sum(bool(each.truth.spells) for each in found)
    yield "caves", f"{len(found)}, of which {wet} truly wet their wheel; all bands are to hold 90 %"
    for name, unit in UNITS.items():
        told = _shares if name in LINES else _counts
        yield name, told([each[name] for each in held], unit)
    yield "thickest film of each spell told", _spells(found)


def _counts(held: list[Held], unit: str) -> str:
    count = round(sum(each.share for each in held))
    ends = binomtest(count, len(held)).proportion_ci(0.95)
    return (
        f"{count} of {len(held)} held ({ends.low:.0%} to {ends.high:.0%}), "
        f"mean width {np.mean([each.width for each in held]):.1f} {unit}"
    )


def _shares(held: list[Held], unit: str) -> str:
    shares = np.array([each.share for each in held])
    return (
        f"{shares.mean():.1%} of minutes held, ± {shares.std() / shares.size**0.5:.1%} between "
        f"caves, mean width {np.mean([each.width for each in held]):.2f} {unit}"
    )


def _spells(found: list[Case]) -> str:
    held = [one for case in found for one in case.spells_held()]
    if not held:
        return "none told"
    return (
        f"{sum(each.share for each in held):.0f} of {len(held)} held, mean width "
        f"{np.mean([each.width for each in held]):.1f} g/m²"
    )
