"""Errors raised on purpose: what a user can mend. Anything else that escapes is a bug of ours.

The text says what was found, what was expected and what to do. The code that finds the fault knows the line;
``path`` is filled in by the one place that opened the file, and the message starts with ``path:line:``.
"""


class SweepkitError(Exception):
    """A mistake the user can mend.

    Parameters
    ----------
    text : str
        What was found; what was expected; what to do.
    path : str or None
        File the text is about, as the user named it.
    line : int or None
        Line in that file, counted from 1.
    """

    def __init__(self, text: str, *, path: str | None = None, line: int | None = None) -> None:
        super().__init__(text)
        self.text = text
        self.path = path
        self.line = line

    def __str__(self) -> str:
        where = [str(part) for part in (self.path, self.line) if part is not None]
        return ": ".join([":".join(where), self.text]) if where else self.text


class UnreadableFile(SweepkitError):
    """The file cannot be read right, so it is not read at all."""


class NotASweep(UnreadableFile):
    """Nothing in the file says that it is a sweep; in a folder such files are only noted."""


class NeedsHint(UnreadableFile):
    """The file can be read once the user says one thing more.

    ``hint``: option that settles it, as written on the command line without dashes (``columns``, ``unit``, ...).
    """

    def __init__(self, text: str, *, hint: str, path: str | None = None, line: int | None = None) -> None:
        super().__init__(text, path=path, line=line)
        self.hint = hint


class LikelyNoSweep(NeedsHint, NotASweep):
    """A table of something else, unless the user says which columns hold the sweep."""


class BadInput(SweepkitError):
    """An option, a kit file or a request that cannot be met."""
