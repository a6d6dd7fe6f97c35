"""Published measurement files, read in place where they are laid out beside the checkout; their licences differ.

``SWEEPKIT_CORPUS`` or ``../shared/corpus`` holds ``files/`` and ``expected.json``, made by a separate parser.
"""

from __future__ import annotations

import json
import os
from pathlib import Path

import numpy as np
import pytest

from sweepkit.errors import NeedsHint, UnreadableFile
from sweepkit.readers import read_sweep

ROOT = Path(__file__).resolve().parents[2]
CORPUS = Path(os.environ.get("SWEEPKIT_CORPUS", ROOT.parent / "shared" / "corpus"))
LIST = CORPUS / "expected.json"
EXPECTED = json.loads(LIST.read_text(encoding="utf-8")) if LIST.exists() else {}

pytestmark = pytest.mark.skipif(not EXPECTED, reason=f"no corpus at {CORPUS}")


@pytest.mark.parametrize("name", sorted(EXPECTED))
def test_comes_out_as_expected(name):
    expected, path = EXPECTED[name], CORPUS / "files" / name
    outcome = expected["outcome"]
    refused = {"needs_hint": NeedsHint, "error": UnreadableFile}.get(outcome)
    if refused is not None:
        with pytest.raises(refused, match=r"--[a-z-]+" if refused is NeedsHint else ";"):
            read_sweep(path)
        return
    try:
        sweep = read_sweep(path)
    except UnreadableFile:
        if outcome != "parse_or_error":
            raise
        return
    assert outcome in ("parse", "parse_magnitude", "parse_or_error")
    assert (sweep.phase == "none") == (outcome == "parse_magnitude") or outcome == "parse_or_error"
    assert sweep.f_hz.size == expected["n"]
    assert sweep.f_hz[[0, -1]] == pytest.approx([expected["f_first_hz"], expected["f_last_hz"]], rel=1e-9)
    if sweep.gamma is not None and expected.get("gamma_first"):
        ends = [complex(*expected["gamma_first"]), complex(*expected["gamma_last"])]
        assert np.abs(sweep.gamma[[0, -1]] - ends).max() < 1e-6
    if isinstance(expected.get("z0"), float):
        assert sweep.reference_ohm == pytest.approx(expected["z0"])
