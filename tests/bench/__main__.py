"""`make bench`: every figure as a ratio against a yardstick measured in the same run."""

import importlib
import os
import platform
import sys

PARTS = (
    *("air", "conduction", "ingest", "visible", "page_bytes"),
    *("planted_cave", "planted_moisture", "planted_sensor", "planted_analyse"),
    *("planted_bands", "planted_lookback", "first_visit"),
)
"""The modules of this folder, each with `rows()` that gives (label, figure in words)."""


def main() -> int:
    """Run the parts named on the command line, or all."""
    print(f"{platform.machine()}, {os.cpu_count()} cores, Python {platform.python_version()}")
    for name in sys.argv[1:] or PARTS:
        print(f"\n{name}", flush=True)
        for label, figure in importlib.import_module(f"tests.bench.{name}").rows():
            print(f"  {label}\n      {figure}", flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
