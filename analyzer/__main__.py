"""`python -m analyzer` is `harp-survey`."""

import sys

from analyzer.cli import main

sys.exit(main())
