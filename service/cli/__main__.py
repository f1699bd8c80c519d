"""`python -m service.cli`: the same as `wheelward`."""

import sys

from service.cli import main

sys.exit(main())
