"""File names that come from outside: kept without their folder, made harmless before they touch a disk."""

from __future__ import annotations

import re

LONGEST_KEPT = 255  # longest file name of the usual file systems (POSIX NAME_MAX on Linux)
LONGEST_EXPORTED = 80  # leaves room for the number and for old cards; common practice, no source


def kept_name(name: str) -> str:
    """The last part of a path as valid text.

    ``name``: as the user or the file system gave it.
    """
    valid = name.encode("utf-8", "replace").decode("utf-8").replace("\0", "")
    return re.split(r"[/\\]", valid)[-1][:LONGEST_KEPT] or "unnamed"


def harmless_name(name: str) -> str:
    """A file name for any file system, that cannot leave its folder or hide."""
    plain = re.sub(r"[^A-Za-z0-9._-]", "_", kept_name(name)).lstrip(".-").rstrip(".")
    stem, dot, ending = plain.rpartition(".")
    if not stem:
        return (plain or "unnamed")[:LONGEST_EXPORTED]
    ending = ending[:12]
    return f"{stem[: LONGEST_EXPORTED - len(ending) - 1]}{dot}{ending}"
