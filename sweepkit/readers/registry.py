"""Which readers there are, and which one takes a file. A new reader is one module and one line here."""

from __future__ import annotations

from types import ModuleType

from sweepkit.errors import NotASweep, UnreadableFile
from sweepkit.readers import table, touchstone, touchstone_keywords
from sweepkit.readers.opening import Text

READERS: tuple[ModuleType, ...] = (touchstone, touchstone_keywords, table)


def choose_reader(text: Text) -> ModuleType:
    """The one reader that recognises a file.

    Raises
    ------
    NotASweep
        No reader recognises it.
    UnreadableFile
        More than one does.
    """
    head = text.head
    able = [reader for reader in READERS if reader.recognise(head)]
    if len(able) == 1:
        return able[0]
    if able:
        names = ", ".join(reader.NAME for reader in able)
        raise UnreadableFile(
            f"the file fits several readers ({names}); expected one; export it again", line=1
        )
    raise NotASweep(
        "neither a Touchstone option line (# MHz S RI R 50) nor a table with a frequency column was found; "
        "expected one of them; export the sweep as Touchstone or CSV",
        line=1,
    )
