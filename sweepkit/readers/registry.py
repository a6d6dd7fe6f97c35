"""Which readers there are, and which one takes a file. A new reader is one module and one line here."""

from __future__ import annotations

import contextlib
from itertools import islice
from types import ModuleType

from sweepkit.errors import NeedsHint, NotASweep
from sweepkit.readers import touchstone, touchstone_keywords
from sweepkit.readers.blocks import one_block
from sweepkit.readers.hints import Hints
from sweepkit.readers.opening import Text


def choose_reader(text: Text) -> ModuleType:
    """The one reader that recognises a file; tables are asked last, for their half is loaded only then.

    Raises ``NotASweep``: no reader recognises it.
    """
    head = text.head
    for reader in (touchstone_keywords, touchstone):
        if reader.recognise(head):
            return reader
    from sweepkit.readers.tables import table
    from sweepkit.readers.tables.layout import refuse_other_layout

    if table.recognise(head):
        return table
    refuse_other_layout(head)
    raise NotASweep(
        "neither a Touchstone option line (# MHz S RI R 50) nor a table with a frequency column was found; "
        "expected one of them; export the sweep as Touchstone or CSV",
        line=1,
    )


def glance(text: Text) -> None:
    """Refuse a long file by its beginning: nothing recognises it, or what looks like a table has no rows.

    Raises ``NotASweep``: nothing there is a sweep.
    Raises ``UnreadableFile``: a word where a number belongs.
    """
    reader = choose_reader(text)
    if hasattr(reader, "take_apart"):
        with contextlib.suppress(NeedsHint):  # the user may have given it
            reader.take_apart(one_block(text, Hints())[0], Hints())
        return
    from sweepkit.readers.tables.layout import SAMPLE_LINES, find_layout

    find_layout(tuple(line for _, line, _ in islice(text.numbered(), SAMPLE_LINES)))
