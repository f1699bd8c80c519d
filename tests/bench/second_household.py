"""A second simulated household for the bench, written apart from `sensors` and from the science.

Many caves at once, one an element of each array: a relay thermostat against a room whose warmth
is a sum of sines, doors that are opened and left ajar, a tray that runs dry, and in half of them
a lidded box. The wheel is a grid of rings (finite volumes in radius and height, upper half), with
a film on its face and on its side. Nothing is shared with what it tests: moist air by Alduchov
and Eskridge, J. Appl. Meteorol. 35 (1996) 601, eq. 21; all else is plain balances.
"""

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]

STEP_S = 20.0
PER_MINUTE = 3
RINGS, LAYERS = 7, 5
LATENT, GAS = 2.477e6, 461.5


def saturated_pa(temperature_c: FloatArray) -> FloatArray:
    """Magnus' form with the coefficients of Alduchov and Eskridge. [Pa]"""
    found: FloatArray = 610.94 * np.exp(17.625 * temperature_c / (temperature_c + 243.04))
    return found


@dataclass
class Wish:
    """What is asked of the household; what is None is drawn."""

    seed: int = 0
    cases: int = 12
    days: int = 12
    heat: tuple[float, float] = (5.5, 10.0)
    flux: tuple[float, float] = (2e-9, 2e-8)
    lid_outside: tuple[float, float] = (8.0, 20.0)
    lid_inside: tuple[float, float] = (4.0, 8.0)


@dataclass
class Truth:
    """What was planted; by minute in rows, by case in columns."""

    in_box: npt.NDArray[np.bool_]
    diameter_m: FloatArray
    height_m: FloatArray
    mass_g: FloatArray
    activity: FloatArray
    openings: list[list[int]]
    series: dict[str, FloatArray] = field(default_factory=dict)


def lived(wish: Wish) -> Truth:  # noqa: PLR0915  # one balance after another, as a step goes
    """Let all caves live."""
    draw = np.random.default_rng(wish.seed)
    n, steps = wish.cases, int(wish.days * 86_400 / STEP_S)

    def between(low: float, high: float) -> FloatArray:
        return draw.uniform(low, high, n)

    def spread(low: float, high: float) -> FloatArray:
        found: FloatArray = np.exp(draw.uniform(np.log(low), np.log(high), n))
        return found

    in_box = np.arange(n) % 2 == 1
    diameter, height = between(0.09, 0.22), between(0.05, 0.09)
    truth = Truth(in_box, diameter, height, np.zeros(n), between(0.94, 0.985), [])
    radius, half = diameter / 2, height / 2
    heat, flux = between(*wish.heat), spread(*wish.flux)
    conductivity, density, specific = 0.37, between(1_000, 1_090), between(2_750, 3_050)
    truth.mass_g = 1_000 * density * np.pi * radius**2 * height
    area = 2 * np.pi * radius * (radius + height)
    # Rings of equal width, layers of equal height; the grid is the upper half of the wheel.
    edges = np.linspace(0, 1, RINGS + 1)[:, None] * radius
    ring_m2 = np.pi * (edges[1:] ** 2 - edges[:-1] ** 2)
    width, depth = radius / RINGS, half / LAYERS
    store = density * specific * (ring_m2 * depth)[:, None, :]
    across = 2 * np.pi * (edges[1:-1] / width)[:, None, :] * depth * conductivity
    along = (conductivity * ring_m2 / depth)[:, None, :]
    face_in, side_in = 2 * conductivity / depth, 2 * conductivity / width
    share = radius / (radius + height)
    start_c = between(8, 14)
    body = np.ones((RINGS, LAYERS, 1)) * start_c
    face_film, side_film, lost = np.zeros(n), np.zeros(n), np.zeros(n)
    respired = between(0, 0.6)

    middle, band = between(7, 12), between(0.3, 0.9)
    room_c, room_pct = between(16, 23), between(55, 88)
    drift_s = between(3_000, 8_000)
    pull = (room_c - middle) / drift_s / between(0.25, 0.5)
    leak, plate, source = spread(0.2, 0.8) / 3_600, spread(2e-4, 2e-3), spread(3e-4, 2e-3)
    damp = between(0.86, 0.96)
    dry_from, dry_to = between(0.3, 0.6) * wish.days, between(0.7, 0.9) * wish.days
    air, vapour = middle.copy(), damp * saturated_pa(middle)
    cooling, probe, cold = np.zeros(n, dtype=bool), middle.copy(), np.zeros(n)
    extra, forget = np.zeros(n), between(150, 600)
    rate = _doors(draw, wish, truth)
    failed = _failures(draw, wish)

    count, volume = 3, between(0.004, 0.010)
    lid_m2 = between(0.04, 0.08)
    outside, inside = between(*wish.lid_outside), between(*wish.lid_inside)
    lid_k = 6.6e-9 * (inside - between(1.5, 3.0))
    gap, walls = spread(0.01, 0.4) / 3_600, between(0.25, 0.6)
    lid, lid_film = middle.copy(), np.zeros(n)
    box, box_pa = middle.copy(), damp * saturated_pa(middle)
    kept: dict[str, list[FloatArray]] = {}
    phase = draw.uniform(0, 2 * np.pi, (3, n))
    for step in range(steps):
        day = step * STEP_S / 86_400
        warm = room_c + 1.2 * np.sin(2 * np.pi * day + phase[0])
        warm = warm + 0.8 * np.sin(0.9 * day + phase[1])
        room_pa = 0.01 * room_pct * saturated_pa(warm) * (1 + 0.1 * np.sin(0.7 * day + phase[2]))
        # Cave: contents and coil, the air above them after a visit, vapour.
        cooling = (probe > middle + band) | (cooling & (probe > middle - band))
        cooling = cooling & ~failed[step]
        cold += (np.where(cooling, pull, 0.0) - cold) * STEP_S / 90
        air += ((warm - air) / drift_s - cold) * STEP_S
        through = 1 - np.exp(-rate[step] * STEP_S)
        extra += (0.6 * (warm - air) - extra) * through - extra * STEP_S / forget
        cave = air + extra
        probe += (cave - probe) * STEP_S / 100
        wet = np.where((day > dry_from) & (day < dry_to), 0.74, damp)
        binds = leak + rate[step] + source + np.where(cooling, plate, 0.0)
        pushes = (leak + rate[step]) * room_pa + source * wet * saturated_pa(air)
        pushes = pushes + np.where(cooling, plate, 0.0) * 0.85 * saturated_pa(air - 1)
        rest = pushes / binds
        vapour = np.minimum(rest + (vapour - rest) * np.exp(-binds * STEP_S), saturated_pa(cave))

        # Wheel in the air of its space.
        about, about_pa = np.where(in_box, box, cave), np.where(in_box, box_pa, vapour)
        top, side = body[:, -1], body[-1]
        top_c, top_in, top_lost, face_film = _surface(
            (ring_m2 * top).sum(0) / ring_m2.sum(0),
            face_in,
            about,
            about_pa,
            face_film,
            heat,
            flux,
            truth.activity,
            respired,
        )
        side_c, side_in_w, side_lost, side_film = _surface(
            side.mean(0),
            side_in,
            about,
            about_pa,
            side_film,
            heat,
            flux,
            truth.activity,
            respired,
        )
        gain = np.zeros_like(body)
        flow = across * (body[1:] - body[:-1])
        gain[:-1] += flow
        gain[1:] -= flow
        flow = along * (body[:, 1:] - body[:, :-1])
        gain[:, :-1] += flow
        gain[:, 1:] -= flow
        gain[:, -1] += ring_m2 * top_in
        gain[-1] += 2 * np.pi * radius * depth * side_in_w
        body = body + gain * STEP_S / store
        lost = lost + 1_000 * area * (share * top_lost[0] + (1 - share) * side_lost[0])
        surface = share * top_c + (1 - share) * side_c

        # Box: air at rest between wheels, lid and walls; vapour likewise; the lid's own heat.
        wheels_w = count * area * heat
        opened = gap + np.where(rate[step] > 0, 0.3, 0.0) / 3_600
        to_cave = walls + 1_230 * opened
        box = (wheels_w * surface + inside * lid_m2 * lid + to_cave * cave) / (
            wheels_w + inside * lid_m2 + to_cave
        )
        held = volume / (GAS * 283.0)
        lid_pa = saturated_pa(lid)
        lid_open = lid_m2 * lid_k * ((lid_film > 0) | (box_pa > lid_pa))
        given = count * area * (share * top_lost[1] + (1 - share) * side_lost[1]) / STEP_S
        slack = count * area * flux
        vent = opened / (GAS * 283.0)
        box_pa = (
            held / STEP_S * box_pa + slack * box_pa + given + lid_open * lid_pa + vent * vapour
        ) / (held / STEP_S + slack + lid_open + vent)
        box_pa = np.minimum(box_pa, saturated_pa(box))
        settles = np.maximum(1_000 * lid_open / lid_m2 * (box_pa - lid_pa) * STEP_S, -lid_film)
        lid_film = np.minimum(lid_film + settles, 80.0)
        warmth = inside * (box - lid) + outside * (cave - lid) + LATENT * settles / 1_000 / STEP_S
        lid = lid + warmth * STEP_S / 1_700
        row = {
            "cave_c": cave,
            "cave_pct": 100 * vapour / saturated_pa(cave),
            "air_c": about,
            "air_pct": 100 * about_pa / saturated_pa(about),
            "surface_c": surface,
            "mean_c": (store * body).sum((0, 1)) / (LAYERS * store.sum((0, 1))),
            "film": np.maximum(face_film, side_film),
            "lid_film": lid_film,
            "grams": truth.mass_g - lost,
            "cooling": cooling.astype(np.float64),
        }
        for name, values in row.items():
            kept.setdefault(name, []).append(values.copy())
    truth.series = {name: np.array(rows) for name, rows in kept.items()}
    return truth


def _doors(draw: np.random.Generator, wish: Wish, truth: Truth) -> FloatArray:
    """Air changes a second through the door at each step; visits go down as openings."""
    steps = int(wish.days * 86_400 / STEP_S)
    rate = np.zeros((steps, wish.cases))
    for case in range(wish.cases):
        visits: list[int] = []
        for day in range(wish.days):
            for hour in draw.uniform(7, 22, draw.integers(0, 4)):
                first = int((day * 86_400 + hour * 3_600) / STEP_S)
                if all(abs(first - other) > 3_600 / STEP_S for other in visits):
                    visits.append(first)
                    rate[first : first + int(draw.uniform(20, 90) / STEP_S) + 1, case] = 1 / 40
        ajar = int(draw.uniform(0.1, 0.9) * steps)
        rate[ajar : ajar + int(draw.uniform(1, 8) * 3_600 / STEP_S), case] += 1 / 400
        truth.openings.append(sorted([*visits, ajar]))
    return rate


def _failures(draw: np.random.Generator, wish: Wish) -> npt.NDArray[np.bool_]:
    """Steps in which the current is cut: twice, for hours."""
    steps = int(wish.days * 86_400 / STEP_S)
    failed = np.zeros((steps, wish.cases), dtype=bool)
    for case in range(wish.cases):
        for start in draw.uniform(0.05, 0.9, 2):
            first = int(start * steps)
            failed[first : first + int(draw.uniform(2, 9) * 3_600 / STEP_S), case] = True
    return failed


def _surface(
    inner_c: FloatArray,
    inward: FloatArray,
    air_c: FloatArray,
    air_pa: FloatArray,
    film: FloatArray,
    heat: FloatArray,
    flux: FloatArray,
    activity: FloatArray,
    living: FloatArray,
) -> tuple[FloatArray, FloatArray, tuple[FloatArray, FloatArray], FloatArray]:
    """Temperature, heat that goes in [W/m²], water lost by wheel and air's gain, and film."""
    surface = (inward * inner_c + heat * air_c) / (inward + heat)
    for _ in range(3):
        full = saturated_pa(surface)
        wet = (film > 0) | (air_pa > full)
        gives = flux * (np.where(wet, full, activity * full) - air_pa)
        slope = flux * full * 0.066 * LATENT
        off = inward * (inner_c - surface) + heat * (air_c - surface) + living - LATENT * gives
        surface = surface + off / (inward + heat + slope)
    out = 1_000 * flux * (saturated_pa(surface) - air_pa) * STEP_S
    settled = np.where(wet, np.maximum(-out, -film), 0.0)
    rind = np.where(wet & (film + settled > 0), 0.0, flux * (activity * full - air_pa) * STEP_S)
    rind = np.where(wet & (film <= 0), 0.0, rind)
    given = rind - settled / 1_000
    return surface, inward * (surface - inner_c), (rind, given), np.minimum(film + settled, 100.0)
