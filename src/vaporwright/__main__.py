"""`python -m vaporwright` is the command line."""

import sys

from vaporwright.cli.main import main

sys.exit(main())
