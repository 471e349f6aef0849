"""Command line of the simulated camera: `python -m controller.simulated --card DIR …`."""

import sys

from controller.simulated.program import main

sys.exit(main())
