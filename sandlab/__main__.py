"""`python -m sandlab` is the command `sandlab`."""

import sys

from sandlab.cli import main

sys.exit(main())
