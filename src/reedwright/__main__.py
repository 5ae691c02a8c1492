"""`python -m reedwright` is the `reedwright` command."""

import sys

from reedwright.cli.main import main

sys.exit(main())
