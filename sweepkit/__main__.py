"""``python -m sweepkit`` is the command ``sweepkit``."""

from sweepkit.cli.main import main

main()
