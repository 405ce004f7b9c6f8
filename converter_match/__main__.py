"""``python -m converter_match`` is the command line."""

import sys

from converter_match.cli import main

sys.exit(main())
