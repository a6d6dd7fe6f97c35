"""Foreign files come in here and nowhere else.

file -> text -> the one reader that knows it -> numbers with their lines -> rows -> checks -> sweep: ``opening`` makes
text, ``reading`` finds the reader (``touchstone``, ``touchstone_keywords``, ``tables``), ``records`` or ``tables.grid``
the numbers (``number_block`` reads plain ones all at once); ``odd_rows`` looks at how each column prints, ``slips`` at
the curve, ``order`` and ``assembly`` at the sweep. A reader is a module with NAME, SUMMARY, recognise and read, and its
name in ``choose_reader``. ``side_by_side`` reads many plain files at once, and leaves all others to ``reading``.
"""

from sweepkit.readers.reading import read_network, read_sweep

__all__ = ["read_network", "read_sweep"]
