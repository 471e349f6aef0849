"""`python -m controller` is `duskhand`."""

import sys

from controller.commands import main

sys.exit(main())
