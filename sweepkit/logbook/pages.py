"""Read rows straight from the pages of a damaged SQLite file, past its tree, which may be torn.

SQLite's own recovery is not reachable from Python's module. What is read here is the part of the published
format that never changes (sqlite.org/fileformat2.html, sections 1.5, 1.6 and 2.1): leaves of tables, their
records and their overflow pages. A row is only a candidate; its digest or hash must prove it.
"""

from __future__ import annotations

import struct
from collections.abc import Container, Iterator
from dataclasses import dataclass
from typing import Any

PAGE_BYTES = 4096  # SQLite's size unless another was asked for (sqlite.org/pgszchng2016.html)
_FILE_HEADER_BYTES = 100  # in front of the first page
_LEAF_HEADER_BYTES = 8
_TABLE_LEAF, _INDEX_KINDS = 13, (2, 10)  # first byte of a page
_MOST_OVERFLOW = 1 << 15  # pages of one row; as many as the largest raw file takes, compressed by nothing

Buffer = Any  # bytes or mmap


@dataclass(frozen=True)
class Row:
    """A row as found: its number, its columns, and whether its page lists it (else it may be an old copy)."""

    number: int
    values: tuple[Any, ...]
    is_listed: bool


class _NoRow(Exception):
    """What is here is no row."""


def find_rows(data: Buffer, *, widths: Container[int]) -> Iterator[Row]:
    """Every row in the file that has one of these counts of columns; old copies among them.

    Pages whose own list of rows does not hold are searched byte by byte.
    """
    size = _page_bytes(data)
    doubtful, overflow = [], set()
    for page in range(0, len(data) - size + 1, size):
        rows, pages, is_clean = _listed_rows(data, page, size, widths)
        overflow |= pages
        yield from rows
        if not is_clean:
            doubtful.append(page)
    for page in doubtful:
        if page not in overflow:
            yield from _searched_rows(data, page, size, widths)


def _page_bytes(data: Buffer) -> int:
    """The size the header tells, where it can be."""
    told = int.from_bytes(data[16:18], "big")
    told = 65536 if told == 1 else told
    return told if 512 <= told <= 65536 and told & (told - 1) == 0 else PAGE_BYTES


def _listed_rows(
    data: Buffer, page: int, size: int, widths: Container[int]
) -> tuple[list[Row], set[int], bool]:
    """Rows that a leaf lists, the overflow pages they take, and whether every entry of its list is a row.

    The list is followed past its stated end as long as it leads to rows, since the count may have flipped.
    """
    start = page + (_FILE_HEADER_BYTES if page == 0 else 0)
    if data[start] != _TABLE_LEAF:
        return [], set(), data[start] in _INDEX_KINDS
    count = int.from_bytes(data[start + 3 : start + 5], "big")
    rows, overflow, is_clean, entry = [], set(), True, 0
    while start + _LEAF_HEADER_BYTES + 2 * entry + 2 <= page + size:
        at = start + _LEAF_HEADER_BYTES + 2 * entry
        offset = int.from_bytes(data[at : at + 2], "big")
        try:
            if not _LEAF_HEADER_BYTES < offset < size:
                raise _NoRow
            number, values, pages = _row_at(data, page, page + offset, size)
        except _NoRow:
            if entry >= count:
                break
            is_clean = False
        else:
            overflow |= pages
            if len(values) in widths:
                rows.append(Row(number, values, entry < count))
        entry += 1
    return rows, overflow, is_clean


def _searched_rows(data: Buffer, page: int, size: int, widths: Container[int]) -> Iterator[Row]:
    """Rows that begin anywhere in a page."""
    for at in range(page, page + size - 4):
        try:
            number, values, _ = _row_at(data, page, at, size)
        except _NoRow:
            continue
        if len(values) in widths:
            yield Row(number, values, False)


def _row_at(data: Buffer, page: int, at: int, size: int) -> tuple[int, tuple[Any, ...], set[int]]:
    """Number, columns and overflow pages of the row that begins here (section 1.6, table leaf cell)."""
    length, at = _varint(data, at)
    number, at = _varint(data, at)
    if not 4 <= length <= len(data) or number >= 1 << 62:
        raise _NoRow
    most, least = size - 35, (size - 12) * 32 // 255 - 23
    here = length
    if length > most:
        here = least + (length - least) % (size - 4)
        here = here if here <= most else least
    if at + here + (4 if here < length else 0) > page + size:
        raise _NoRow
    kinds, body = _kinds(data, at, length)
    pages: set[int] = set()
    payload = bytes(data[at : at + here])
    if here < length:
        rest, pages = _overflow(data, at + here, length - here, size)
        payload += rest
    return number, _columns(payload, body, kinds), pages


def _overflow(data: Buffer, at: int, missing: int, size: int) -> tuple[bytes, set[int]]:
    """The rest of a long row, and the pages it lies on."""
    pages: set[int] = set()
    parts = []
    while missing > 0:
        page = (int.from_bytes(data[at : at + 4], "big") - 1) * size
        if page in pages or not size <= page <= len(data) - size or len(pages) > _MOST_OVERFLOW:
            raise _NoRow
        pages.add(page)
        parts.append(bytes(data[page + 4 : page + 4 + min(missing, size - 4)]))
        missing -= size - 4
        at = page
    return b"".join(parts), pages


def _kinds(data: Buffer, at: int, length: int) -> tuple[list[int], int]:
    """Kind of each column, and where the first begins; they must fill the row exactly (section 2.1)."""
    header, after = _varint(data, at)
    if not 2 <= header <= min(length, 100):
        raise _NoRow
    kinds, end, total = [], at + header, header
    while after < end:
        kind, after = _varint(data, after)
        kinds.append(kind)
        total += _width(kind)
    if after != end or total != length:
        raise _NoRow
    return kinds, header


def _width(kind: int) -> int:
    """Bytes of a column of this kind."""
    if kind >= 12:
        return (kind - 12) // 2
    if kind in (10, 11):
        raise _NoRow
    return (0, 1, 2, 3, 4, 6, 8, 8, 0, 0)[kind]


def _columns(payload: bytes, at: int, kinds: list[int]) -> tuple[Any, ...]:
    values: list[Any] = []
    for kind in kinds:
        part = payload[at : at + _width(kind)]
        at += len(part)
        if kind >= 12:
            values.append(part if kind % 2 == 0 else part.decode("utf-8", "surrogateescape"))
        elif kind == 7:
            values.append(struct.unpack(">d", part)[0])
        else:
            number = kind - 8 if kind in (8, 9) else int.from_bytes(part, "big", signed=True)
            values.append(None if kind == 0 else number)
    return tuple(values)


def _varint(data: Buffer, at: int) -> tuple[int, int]:
    """A number of 1 to 9 bytes and where it ends."""
    value = 0
    for count in range(9):
        if at + count >= len(data):
            raise _NoRow
        byte = data[at + count]
        if count == 8:
            return value << 8 | byte, at + 9
        value = value << 7 | byte & 0x7F
        if byte < 0x80:
            return value, at + count + 1
    raise _NoRow
