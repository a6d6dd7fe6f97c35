"""Foreign files come in here and nowhere else.

``opening`` turns bytes into text, ``reading`` finds the one reader that recognises it, the reader finds
rows (``number_block`` reads plain ones all at once), ``assembly`` and ``order`` check and order them and make the
Sweep. A reader is a module with NAME, SUMMARY, recognise and read, and its name in ``choose_reader``.
"""

from sweepkit.readers.reading import read_network, read_sweep

__all__ = ["read_network", "read_sweep"]
