"""Several named blocks in one file: BEGIN NAME ... END, of which one is wanted."""

from __future__ import annotations

import re
from dataclasses import replace

from sweepkit.errors import BadInput, NeedsHint
from sweepkit.readers.hints import Hints
from sweepkit.readers.opening import Text

BEGIN = re.compile(r"(?!\s*\[)\W*BEGIN\b\W*(.*)", re.IGNORECASE)
END = re.compile(r"(?!\s*\[)\W*END\b.*", re.IGNORECASE)


def one_block(text: Text, hints: Hints) -> tuple[Text, Hints]:
    """The text with every block but the wanted one blanked, so that their numbers stay.

    Raises ``NeedsHint``: several blocks with names, and none is asked for.
    """
    if "g" not in text.text and "G" not in text.text:  # most files: no BEGIN, told fast
        return text, hints
    if sum(map(text.text.count, ("BEGIN", "Begin", "begin"))) < 2:
        return text, hints
    lines = text.lines
    names = {at: match.group(1).strip() for at, line in enumerate(lines) if (match := BEGIN.fullmatch(line))}
    if len(names) < 2 or "" in names.values() or len(set(names.values())) < len(names):
        return text, hints
    listed = ", ".join(names.values())
    if hints.trace is None:
        raise NeedsHint(
            f"the file has {len(names)} blocks ({listed}); expected one; pass --trace with the name of the wanted one",
            hint="trace",
            line=list(names)[1] + 1,
        )
    found = [at for at, name in names.items() if name.casefold() == hints.trace.casefold()]
    found = found or [at for at, name in names.items() if hints.trace.casefold() in name.casefold()]
    if len(found) != 1:
        raise BadInput(f"--trace is {hints.trace!r}; the file has the blocks {listed}; name one of them")
    kept, block = [], -1
    for at, line in enumerate(lines):
        block = at if at in names else block
        kept.append(line if block in (-1, found[0]) else "")
        if END.fullmatch(line):
            block = -1 if block == found[0] else block
    return replace(text, text="\n".join(kept)), replace(hints, trace=None)
