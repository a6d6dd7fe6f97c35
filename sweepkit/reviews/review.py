"""One sweep reviewed: what stands in the JSON, and how it comes about."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from sweepkit.bands import Band, read_bands
from sweepkit.feedline.chain import LineChain
from sweepkit.findings import Finding
from sweepkit.instrument import DEFAULT_DRAWS
from sweepkit.kit import Kit
from sweepkit.lines import LinePiece
from sweepkit.reviews.adequacy import Adequacy, judge_sweep
from sweepkit.reviews.bands import BandCurve, BandFigures, describe_band, touched_bands, trace_band
from sweepkit.reviews.next_sweep import NextSweep
from sweepkit.reviews.plane import SWR_LIMITS, DrawnDip, Plane, describe_plane, find_dips
from sweepkit.reviews.planes import Planes, lay_out_planes
from sweepkit.sweep import Phase, Place, Sweep

SCHEMA = "sweepkit/review/1"
