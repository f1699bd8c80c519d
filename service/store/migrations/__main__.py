"""Writes a migration: compares the tables in the code with a store at the newest migration."""

import sys
import tempfile
from pathlib import Path

from alembic import command

from service.store.database import alembic_config, migrate


def main() -> int:
    """Write one migration named by the first argument."""
    name = " ".join(sys.argv[1:]).strip()
    if not name:
        sys.stderr.write('say what changed: make migration NAME="what changed"\n')
        return 2
    with tempfile.TemporaryDirectory() as folder:
        url = f"sqlite:///{Path(folder) / 'store.db'}"
        migrate(url)
        config = alembic_config(url)
        script = command.revision(config, message=name, autogenerate=True)
    sys.stdout.write(f"{script}\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
