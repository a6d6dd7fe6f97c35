"""The one place where a sweep file is opened: bytes in, checked text out. Nothing is ever unpickled."""

from __future__ import annotations

import codecs
import hashlib
import os
import re
import stat
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from sweepkit.errors import BadInput, NeedsHint, NotASweep, UnreadableFile
from sweepkit.readers.hints import Hints

LARGEST_FILE_BYTES = 1 << 30  # our own choice: a million points take about 40 MB

FIRST_BYTES = 1 << 20  # of a long file, looked at before the rest is read; our own choice
COUNTED = 1 << 14  # characters whose line ends are counted at once; our own choice
HEAD_LINES, HEAD_CHARACTERS = 100, 16_384  # what a reader sees before it says yes or no; our own choice

_MARKS = (  # byte-order marks, The Unicode Standard 16.0, section 23.8; the longer ones first
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
_FOREIGN = (  # first bytes of kinds of file people mistake for a sweep (from each format's definition)
    (b"\x1f\x8b", "gzip-compressed data", "unpack it first"),
    (b"BZh", "bzip2-compressed data", "unpack it first"),
    (b"\xfd7zXZ\x00", "xz-compressed data", "unpack it first"),
    (b"\x28\xb5\x2f\xfd", "zstd-compressed data", "unpack it first"),
    (b"7z\xbc\xaf\x27\x1c", "a 7z archive", "unpack it first"),
    (b"Rar!", "a rar archive", "unpack it first"),
    (b"PK\x03\x04", "a zip archive or a spreadsheet", "unpack it, or export the sheet as CSV"),
    (b"\xd0\xcf\x11\xe0", "an office document", "export the sheet as CSV"),
    (b"%PDF", "a PDF document", "export the sweep as Touchstone or CSV"),
    (b"\x89PNG", "a picture", "export the sweep as Touchstone or CSV"),
    (b"\xff\xd8\xff", "a picture", "export the sweep as Touchstone or CSV"),
    (b"SQLite format 3", "a database", "export the sweep as Touchstone or CSV"),
)
_FOREIGN_STARTS = tuple(start for start, _, _ in _FOREIGN)
_BLOCK_COUNT = re.compile(r"\A#(?:1\d|2\d{2}|3\d{3}|4\d{4}|5\d{5}|6\d{6}|7\d{7}|8\d{8}|9\d{9})(?=[!#\[\s])")
# endings of files that hold sweeps: where such a one holds something else, that is an error; our own choice
_SWEEP_ENDING = re.compile(r"\.(?:[sygzh]\d{1,3}p|ts|csv|tsv|txt|dat|asc)$", re.IGNORECASE)
_PORTS_ENDING = re.compile(r"\.[sygzh](\d{1,3})p$", re.IGNORECASE)
_CONTROL = re.compile(r"[\x00-\x08\x0e-\x1f\x7f]")  # no text holds these; tab, line ends, page feeds are text

# marks of a block; in brackets they are keywords
BEGIN = re.compile(r"(?!\s*\[)\W*BEGIN\b\W*(.*)", re.IGNORECASE)
END = re.compile(r"(?!\s*\[)\W*END\b.*", re.IGNORECASE)


@dataclass(frozen=True)
class Text:
    """A file's text, ready to be read line by line."""

    text: str  # all of it, every line ended by a line feed alone
    name: str  # last part of the path, in lower case (its ending can contradict the content)
    sha256: str  # of the file's bytes, hexadecimal
    encoding: str  # how the bytes were turned into text

    @cached_property
    def lines(self) -> list[str]:
        """Its lines; line 1 is ``lines[0]``."""
        return self.text.split("\n")

    def line(self, number: int) -> str:
        """One line, without cutting all of a long text into lines."""
        start, before = 0, number - 1  # from which place on so many line ends stand before it
        while (
            start + COUNTED < len(self.text)
            and (ends := self.text.count("\n", start, start + COUNTED)) < before
        ):
            start, before = start + COUNTED, before - ends
        for _ in range(before):
            start = self.text.index("\n", start) + 1
        end = self.text.find("\n", start)
        return self.text[start:] if end < 0 else self.text[start:end]

    def numbered(self, start: int = 0, first: int = 1) -> Iterator[tuple[int, str, int]]:
        """Number, text and place of each line from a place on, one at a time."""
        number = first
        while start <= len(self.text):
            end = self.text.find("\n", start)
            end = len(self.text) if end < 0 else end
            yield number, self.text[start:end], start
            start, number = end + 1, number + 1

    @property
    def head(self) -> str:
        """The beginning of the file without its ``!`` remarks, enough for a reader to recognise it."""
        start = 0
        while (line := self.text[start : self.text.find("\n", start) + 1]) and line.lstrip()[:1] in ("", "!"):
            start += len(line)
        part = self.text[start : start + HEAD_CHARACTERS]
        lines = part.split("\n", HEAD_LINES)[:HEAD_LINES]
        if "!" in part:
            lines = [line for line in lines if not line.lstrip().startswith("!")]
        return "\n".join(lines)

    @property
    def is_cut_short(self) -> bool:
        """Whether the last line lacks its end, as where a writer was stopped; many files are sound without it."""
        return not self.text.endswith("\n")

    @property
    def named_ports(self) -> int | None:
        """Number of ports that a Touchstone ending such as ``.s2p`` states."""
        return named_ports(self.name)


def named_ports(name: str) -> int | None:
    """Number of ports that the ending of a file's name states, where it does."""
    match = _PORTS_ENDING.search(name)
    return int(match.group(1)) if match else None


def open_text(name: str, glance: Callable[[Text], object]) -> Text:
    """The text of a file, or why it has none; ``glance`` may refuse a long one by its beginning."""
    return decode(read_bytes(name, glance), name)


def read_bytes(name: str, glance: Callable[[Text], object]) -> bytes:
    """The bytes of a regular file that could be text; of a long one ``glance`` sees the beginning first."""
    try:
        state = os.stat(name)
        if not stat.S_ISREG(state.st_mode) or state.st_size > LARGEST_FILE_BYTES:
            raise _no_plain_file(state)
        with open(name, "rb", buffering=0) as file:
            data = file.read(min(FIRST_BYTES, state.st_size + 1))
            if state.st_size > FIRST_BYTES:
                _refuse_foreign(data, name)
                glance(decode(_whole_lines(data), name))
                file.seek(0)
                data = file.read()  # anew: two parts put together are there twice for a while
    except FileNotFoundError as error:
        raise UnreadableFile("no such file; expected a sweep; check the name and the folder") from error
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise UnreadableFile(f"cannot be opened ({reason}); expected a readable file; check it") from error
    _refuse_foreign(data, name)
    return data


def _whole_lines(data: bytes) -> bytes:
    """The beginning of a file without its last, cut line, unless that is most of it."""
    end = data.rfind(b"\n") + 1
    return data[:end] if 2 * end > len(data) else data


def _no_plain_file(state: os.stat_result) -> UnreadableFile:
    if stat.S_ISDIR(state.st_mode):
        return UnreadableFile("this is a folder; expected a file with one sweep; name the file")
    if not stat.S_ISREG(state.st_mode):
        return UnreadableFile("this is no regular file; expected one; copy the sweep into a file first")
    return UnreadableFile(
        f"the file has {state.st_size / 1e9:.1f} GB; expected at most 1 GB; check that it is a sweep"
    )


def _refuse_foreign(data: bytes, name: str) -> None:
    if not data or data.isspace():
        raise UnreadableFile("the file is empty; expected a sweep; export it again", line=1)
    kind = UnreadableFile if _SWEEP_ENDING.search(name) else NotASweep
    if data.startswith(_FOREIGN_STARTS):
        what, cure = next((what, cure) for start, what, cure in _FOREIGN if data.startswith(start))
        raise kind(f"this is {what}, not text; expected Touchstone or a table; {cure}", line=1)
    if data[:1] == b"\x80" and data[1:2] in (b"\x02", b"\x03", b"\x04", b"\x05"):
        raise kind(
            "this is a Python pickle, which can run code; it was not opened as one; "
            "expected Touchstone or a table; export the sweep as text",
            line=1,
        )


def decode(data: bytes, name: str) -> Text:
    """Text of a file's bytes."""
    text, encoding = _decoded(data)
    text = text.rstrip("\x1a")  # end-of-file mark of old systems
    if text.startswith("#"):
        text = _BLOCK_COUNT.sub("", text, count=1)
    if "\r" in text:
        text = text.replace("\r\n", "\n").replace("\r", "\n")
    if (encoding not in ("utf-8", "latin-1") or _has_control(data)) and (bad := _CONTROL.search(text)):
        line = text.count("\n", 0, bad.start()) + 1
        kind = UnreadableFile if line > 1 or _SWEEP_ENDING.search(name) else NotASweep
        raise kind(
            f"byte 0x{ord(bad.group()):02x} is no text; expected Touchstone or a table; "
            "the file is binary or damaged - export the sweep again",
            line=line,
        )
    return Text(text, os.path.basename(name).lower(), hashlib.sha256(data).hexdigest(), encoding)


def _has_control(data: bytes) -> bool:
    """Whether a byte is no text, looked at by pieces: a copy of all would weigh as much as the file."""
    for start in range(0, len(data), COUNTED):
        piece = np.frombuffer(data, np.uint8, min(COUNTED, len(data) - start), start)
        if ((piece < 0x09) | (piece - 0x0E < 0x12) | (piece == 0x7F)).any():
            return True
    return False


def _decoded(data: bytes) -> tuple[str, str]:
    """Byte-order mark first, then UTF-8, then latin-1; UTF-16 without a mark shows in its zero bytes."""
    encoding = next((name for mark, name in _MARKS if data.startswith(mark)), None)
    if encoding is None and len(data) > 3:
        if data[1:200:2].count(0) > 0.9 * len(data[1:200:2]):
            encoding = "utf-16-le"
        elif data[0:200:2].count(0) > 0.9 * len(data[0:200:2]):
            encoding = "utf-16-be"
    if encoding is not None:
        try:
            return data.decode(encoding), encoding
        except UnicodeDecodeError as error:
            line = data[: error.start].count(b"\n") + 1
            raise UnreadableFile(
                f"the text is no valid {encoding.upper()}; expected text; export the sweep again", line=line
            ) from error
    try:
        return data.decode("utf-8"), "utf-8"
    except UnicodeDecodeError:
        return data.decode("latin-1"), "latin-1"


def one_block(text: Text, hints: Hints) -> tuple[Text, Hints]:
    """The text with every named block (BEGIN NAME ... END) but the wanted one blanked, so that line numbers stay."""
    end = (
        max(map(text.text.rfind, "gG")) + 3
    )  # in most files no BEGIN stands behind their headings, told fast
    if sum(text.text.count(word, 0, end) for word in ("BEGIN", "Begin", "begin")) < 2:
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
