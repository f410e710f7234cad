"""`python -m sweep` is `foilsweep`."""

import sys

from sweep.cli import main

sys.exit(main())
