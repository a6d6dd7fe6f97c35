"""Which readers there are, and which one takes a file. A new reader is one module and one line here."""

from __future__ import annotations

from types import ModuleType

from sweepkit.errors import NotASweep
from sweepkit.readers import touchstone, touchstone_keywords
from sweepkit.readers.opening import Text


def choose_reader(text: Text) -> ModuleType:
    """The one reader that recognises a file; tables are asked last, for their half is loaded only then.

    Raises
    ------
    NotASweep
        No reader recognises it.
    """
    head = text.head
    for reader in (touchstone_keywords, touchstone):
        if reader.recognise(head):
            return reader
    from sweepkit.readers import table
    from sweepkit.readers.layout import refuse_other_layout

    if table.recognise(head):
        return table
    refuse_other_layout(head)
    raise NotASweep(
        "neither a Touchstone option line (# MHz S RI R 50) nor a table with a frequency column was found; "
        "expected one of them; export the sweep as Touchstone or CSV",
        line=1,
    )
