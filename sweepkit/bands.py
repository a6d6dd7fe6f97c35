"""Amateur bands by name, frequency and region. Edges are editable defaults, not law.

The table is ``data/bands.csv``, a source per row; a file of the operator's own in the same form replaces it.
Without a region the narrowest common edges hold: what is allowed in every region of the table.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from pathlib import Path

from sweepkit.errors import BadInput, SweepkitError, UnreadableFile
from sweepkit.quantities import parse_frequency_hz

REGIONS = (1, 2, 3)  # ITU regions
OWN_TABLE = Path(__file__).parent / "data" / "bands.csv"
LONGEST_NAME = 40  # letters; the widest line of a card
COLUMNS = ("name", "region", "low", "high")


@dataclass(frozen=True)
class Band:
    """One band.

    ``name``: as people call it: ``40 m``.
    ``low_hz``, ``high_hz``: edges. [Hz]
    """

    name: str
    low_hz: float
    high_hz: float

    def __post_init__(self) -> None:
        if not 0 < self.low_hz < self.high_hz:
            raise ValueError(
                f"{self.name} runs from {self.low_hz} to {self.high_hz} Hz; low must be below high"
            )


def read_bands(path: Path = OWN_TABLE, *, region: int | None = None) -> tuple[Band, ...]:
    """Bands of a region, in rising frequency.

    From a CSV with the columns name, region, low, high (frequencies with their unit), where an empty region stands
    for every one. Without ``region``: the narrowest edges common to all regions, and only bands that all have.
    """
    if region is not None and region not in REGIONS:
        raise BadInput(f"region is {region}; ITU regions are 1, 2 and 3")
    edges: dict[str, dict[int, Band]] = {}
    for line, rows_region, band in _rows(path):
        for each in REGIONS if rows_region is None else (rows_region,):
            if each in edges.setdefault(_plain(band.name), {}):
                text = f"{band.name} has another row for region {each}; one was expected; take one out"
                raise UnreadableFile(text, path=str(path), line=line)
            edges[_plain(band.name)][each] = band
    wanted = REGIONS if region is None else (region,)
    common = [found for by_region in edges.values() if (found := _common(by_region, wanted))]
    if not common:
        which = "every region" if region is None else f"region {region}"
        raise UnreadableFile(
            f"no band is told for {which}; give --region, or leave the column region empty", path=str(path)
        )
    return tuple(sorted(common, key=lambda band: band.low_hz))


def find_band(bands: tuple[Band, ...], name: str) -> Band:
    """The band called so, ``40m`` or ``40 m``, else a ``BadInput`` that lists those there are."""
    for band in bands:
        if _plain(band.name) == _plain(name):
            return band
    raise BadInput(f"no band is called {name[:60]!r}; there are {', '.join(band.name for band in bands)}")


def _plain(name: str) -> str:
    return name.replace(" ", "").lower()


def _common(by_region: dict[int, Band], wanted: tuple[int, ...]) -> Band | None:
    """Narrowest edges over the wanted regions, or nothing when one of them lacks the band."""
    if any(region not in by_region for region in wanted):
        return None
    chosen = [by_region[region] for region in wanted]
    low_hz, high_hz = max(band.low_hz for band in chosen), min(band.high_hz for band in chosen)
    return Band(chosen[0].name, low_hz, high_hz) if low_hz < high_hz else None


def _rows(path: Path) -> list[tuple[int, int | None, Band]]:
    """Every row of the table, checked."""
    try:
        with path.open(encoding="utf-8-sig", newline="") as file:
            reader = csv.DictReader(file)
            missing = [column for column in COLUMNS if column not in (reader.fieldnames or [])]
            if missing:
                raise UnreadableFile(
                    f"no column {', '.join(missing)}; a band table has {', '.join(COLUMNS)}", line=1
                )
            return [(reader.line_num, *_row(row, reader.line_num)) for row in reader]
    except (OSError, UnicodeDecodeError, csv.Error) as error:  # the last: a cell beyond what a table has
        why = getattr(error, "strerror", None) or str(error)
        text = f"cannot be read as a band table ({why}); a CSV with {', '.join(COLUMNS)} was expected; check the file"
        raise UnreadableFile(text, path=str(path)) from error
    except SweepkitError as error:
        error.path = str(path)
        raise


def _row(row: dict[str, str], line: int) -> tuple[int | None, Band]:
    """One row as a band and its region."""
    text = (row["region"] or "").strip()
    if text and text not in {str(region) for region in REGIONS}:
        raise UnreadableFile(f"region is {text!r}; write 1, 2, 3 or nothing", line=line)
    try:
        name = (row["name"] or "").strip()
        if not 0 < len(name) <= LONGEST_NAME or not name.isprintable():
            raise BadInput(f"{name[:60]!r} is no name of a band; up to {LONGEST_NAME} letters were expected")
        low_hz, high_hz = parse_frequency_hz(row["low"] or ""), parse_frequency_hz(row["high"] or "")
        return (int(text) if text else None), Band(name, low_hz, high_hz)
    except (BadInput, ValueError) as error:
        raise UnreadableFile(str(error), line=line) from error
