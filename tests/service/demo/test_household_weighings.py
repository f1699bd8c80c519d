"""The weighings of the invented household reach the store, moved with everything else."""

import json
from pathlib import Path

from sensors.moments import from_iso
from service.clock import US_PER_S
from service.demo.household import enter_household, read_household
from service.store import weighings, wheels
from tests import builders

FILE = Path(__file__).parents[3] / "sample_readings" / "larch_lane.json"


def test_every_weighing_of_the_file_is_entered_and_moved(tmp_path: Path) -> None:
    shift_us = 3 * 86_400 * US_PER_S
    told = [
        (wheel["label"], from_iso(each["time"]) + shift_us, each["grams"])
        for batch in json.loads(FILE.read_text())["batches"]
        for wheel in batch["wheels"]
        for each in wheel.get("weighings", [])
    ]
    home = builders.empty_home(tmp_path)

    with home.sessions() as session:
        enter_household(session, read_household(FILE), home.plans, shift_us)
        entered = [
            (wheel.label, each.time_us, each.mass_g)
            for wheel, _ in wheels.wheels(session)
            for each in weighings.weighings(session, wheel.id or 0)
        ]

    assert len(entered) > 20
    assert sorted(entered) == sorted(told)
