"""Foreign files come in here and nowhere else.

``opening`` turns bytes into text, ``registry`` finds the one reader that recognises it, the reader finds
rows, ``assembly`` checks and orders them and makes the Sweep. Plain one-port Touchstone files take a shorter
way (``plain_one_port``). A reader is a module with NAME, SUMMARY, recognise and read, and one line in
``registry``.
"""

from sweepkit.readers.reading import read_sweep

__all__ = ["read_sweep"]
