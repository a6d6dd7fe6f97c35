"""Raw files, whole: addressed by their hash, kept compressed, checked when they come out, named harmlessly."""

from __future__ import annotations

import hashlib
import re
import zlib
from pathlib import Path

from sweepkit.errors import BadInput, UnreadableFile
from sweepkit.logbook.connections import LogConnection

LARGEST_RAW_BYTES = 64 << 20  # a hundred times the longest sweep seen; common practice, no source
LONGEST_KEPT = 255  # longest file name of the usual file systems (POSIX NAME_MAX on Linux)
LONGEST_EXPORTED = 80  # leaves room for the number and for old cards; common practice, no source


def sha256_of(data: bytes) -> str:
    """Hash of a file's bytes, hexadecimal."""
    return hashlib.sha256(data).hexdigest()


def read_file(path: Path) -> bytes:
    """A file's bytes, if it is a plain file of a size a sweep can have; else a ``BadInput``."""
    try:
        if not path.is_file():
            what = "a folder" if path.is_dir() else "no plain file" if path.exists() else "not there"
            raise BadInput(f"this is {what}; a file with a sweep was expected", path=str(path))
        with path.open("rb") as stream:
            data = stream.read(LARGEST_RAW_BYTES + 1)
    except OSError as error:
        raise BadInput(
            f"cannot be read ({error.strerror}); check the name and the card", path=str(path)
        ) from error
    if not data:
        raise BadInput("the file is empty; a sweep was expected; export it again", path=str(path))
    if len(data) > LARGEST_RAW_BYTES:
        raise BadInput(
            f"the file is larger than {LARGEST_RAW_BYTES >> 20} MiB, which no sweep is", path=str(path)
        )
    return data


def put_raw(connection: LogConnection, data: bytes) -> str:
    """Keep a file's bytes, inside a transaction, and give their hash.

    The same bytes are kept once; where they were damaged since, they are put back.
    """
    sha256, packed = sha256_of(data), zlib.compress(data)
    there = connection.execute("SELECT size, packed FROM raw WHERE sha256 = ?", (sha256,)).fetchone()
    if there is None:
        connection.execute(
            "INSERT INTO raw (sha256, size, packed) VALUES (?, ?, ?)", (sha256, len(data), packed)
        )
    elif unpack(*there) != data:
        connection.execute(
            "UPDATE raw SET size = ?, packed = ? WHERE sha256 = ?", (len(data), packed, sha256)
        )
    return sha256


def get_raw(connection: LogConnection, sha256: str) -> bytes:
    """A kept file's bytes, proven to be the ones that were put in; else ``UnreadableFile``."""
    row = connection.execute("SELECT size, packed FROM raw WHERE sha256 = ?", (sha256,)).fetchone()
    if row is None:
        connection.doubt(f"raw file {sha256[:12]} is missing")
        raise UnreadableFile(f"raw file {sha256[:12]} is missing; the logbook is damaged; go back to a copy")
    data = unpack(*row)
    if data is None or sha256_of(data) != sha256:
        connection.doubt(f"raw file {sha256[:12]} is not what its hash says")
        raise UnreadableFile(
            f"raw file {sha256[:12]} is not what its hash says; the logbook is damaged; go back to a copy"
        )
    return data


def unpack(size: object, packed: object) -> bytes | None:
    """Decompress without ever taking more memory than a raw file may need; neither size nor bytes are trusted, and
    ``None`` is what cannot be a raw file.
    """
    if not isinstance(size, int) or not 0 < size <= LARGEST_RAW_BYTES or not isinstance(packed, bytes):
        return None
    unpacker = zlib.decompressobj()
    try:
        data = unpacker.decompress(packed, size + 1)
    except zlib.error:
        return None
    whole = unpacker.eof and not unpacker.unused_data
    return data if whole and len(data) == size else None


def kept_name(name: str) -> str:
    """The last part of a path, as the user or the file system gave it, as valid text."""
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
