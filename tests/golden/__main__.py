"""Two commits, the same command lines: prints every line of output that differs.

``python -m tests.golden OLD [NEW]``; without NEW the working tree as it stands. Exit 0: equal; 1: something differs.
What a commit said is kept in ``.golden/`` and not run again; the working tree always is.
"""

from __future__ import annotations

import argparse
import difflib
import hashlib
import json
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
RUNNER = Path(__file__).with_name("run_lines.py")
KEPT = ROOT / ".golden"
SHOWN = 200  # columns of a line that differs, from just before where it does

KIT = """region = 1
[lines.spool]
type = "RG-58"
length = "15 m"
[analyzer]
directivity_db = 40
noise = 0.001
[radio]
power_w = 20
power_at_swr = [[1.5, 1.0], [2.0, 0.75], [3.0, 0.4]]
[tuner]
max_swr = 5.0
loss_db = 0.4
[antennas.ridge-dipole]
kind = "dipole"
length = "10.58 m"
line = ["none"]
"""
OWN_BANDS = "name,region,low,high\nclub,1,7.03 MHz,7.06 MHz\n"


def main() -> int:
    """Run both and print what differs."""
    parser = argparse.ArgumentParser(prog="python -m tests.golden", description=__doc__)
    parser.add_argument("old", help="a commit")
    parser.add_argument("new", nargs="?", help="another; left out: the working tree")
    parser.add_argument("--only", default="", help="run lines that hold these words only")
    told = parser.parse_args()
    old, new = (_outputs(commit, told.only) for commit in (told.old, told.new))
    differ = [line for line in old if old[line] != new[line]]
    for line in differ:
        print(f"\n$ sweepkit {line}")
        print("\n".join(_differences(old[line], new[line])))
    print(f"\n{len(differ)} of {len(old)} command lines differ")
    return 1 if differ else 0


def _outputs(commit: str | None, only: str) -> dict[str, str]:
    """What every line says, of a commit or of the working tree."""
    if commit is None:
        with tempfile.TemporaryDirectory() as folder:
            return _run(ROOT, Path(folder), only)
    key = hashlib.sha256(
        RUNNER.with_name("command_lines.txt").read_bytes() + RUNNER.read_bytes() + only.encode()
    ).hexdigest()
    full = subprocess.check_output(["git", "rev-parse", f"{commit}^{{commit}}"], cwd=ROOT, text=True).strip()
    kept = KEPT / f"{full[:12]}-{key[:8]}.json"
    if not kept.exists():
        with tempfile.TemporaryDirectory() as folder, _tree(full, Path(folder) / "tree") as tree:
            outputs = _run(tree, Path(folder), only)
        KEPT.mkdir(exist_ok=True)
        kept.write_text(json.dumps(outputs), encoding="utf-8")
    return dict(json.loads(kept.read_text(encoding="utf-8")))


@contextmanager
def _tree(commit: str, folder: Path) -> Iterator[Path]:
    """The files of a commit, beside the working tree."""
    subprocess.run(["git", "worktree", "add", "-q", "--detach", str(folder), commit], cwd=ROOT, check=True)
    try:
        yield folder
    finally:
        subprocess.run(["git", "worktree", "remove", "--force", str(folder)], cwd=ROOT, check=True)


def _run(tree: Path, folder: Path, only: str) -> dict[str, str]:
    """All command lines with the sweepkit of a tree, over the samples of the working tree."""
    work = folder / "samples"
    shutil.copytree(ROOT / "sample_sweeps", work, ignore=shutil.ignore_patterns("*.py", "__pycache__"))
    _add_inputs(work)
    environment = {name: value for name, value in os.environ.items() if not name.startswith("SWEEPKIT")}
    environment |= {"PYTHONPATH": str(tree), "TZ": "UTC", "OPENBLAS_NUM_THREADS": "1", "PYTHONHASHSEED": "0"}
    kept = folder / "outputs.json"
    subprocess.run([sys.executable, str(RUNNER), str(kept), only], cwd=work, env=environment, check=True)
    return dict(json.loads(kept.read_text(encoding="utf-8")))


def _add_inputs(work: Path) -> None:
    """Beside the samples: a kit, own bands, a sweep without phase, poor files, and a sweep taken again."""
    (work / "kit.toml").write_text(KIT, encoding="utf-8")
    (work / "own_bands.csv").write_text(OWN_BANDS, encoding="utf-8")
    plain = (work / "ridge_dipole_40m.s1p").read_text(encoding="utf-8").splitlines(keepends=True)
    data = [line for line in plain if line[:1].isdigit()]
    rows = ["frequency (Hz),SWR\n"]
    for line in data:
        f_hz, real, imaginary = map(float, line.split())
        size = abs(complex(real, imaginary))
        rows.append(f"{f_hz:.0f},{(1 + size) / (1 - size):.3f}\n")
    (work / "swr_only.csv").write_text("".join(rows), encoding="utf-8")
    (work / "cut_short.s1p").write_text("".join(plain)[:-12], encoding="utf-8")
    (work / "word.s1p").write_text(
        "".join(plain[:-5]) + data[-1].split()[0] + " oops 0.1\n", encoding="utf-8"
    )
    again = (work / "valley_dipole_feedpoint.s1p").read_text(encoding="utf-8").splitlines()
    (work / "valley_dipole_feedpoint_again.s1p").write_text(
        "\n".join(map(_moved, again)) + "\n", encoding="utf-8"
    )


def _moved(line: str) -> str:
    """A row of data a little elsewhere, as a repeat of the sweep would have it."""
    if not line[:1].isdigit():
        return line
    f_hz, real, imaginary = line.split()
    return f"{f_hz} {float(real) + 4e-4:.9f} {float(imaginary) - 3e-4:.9f}"


def _differences(old: str, new: str) -> Iterator[str]:
    """Lines that went and came; a long pair is clipped around the first character that differs."""
    rows, columns = old.splitlines(), new.splitlines()
    for tag, a, b, c, d in difflib.SequenceMatcher(None, rows, columns, autojunk=False).get_opcodes():
        if tag != "equal":
            went, came = rows[a:b], columns[c:d]
            starts = [max(_shared(*pair) - 40, 0) for pair in zip(went, came, strict=False)]
            starts += [0] * abs(len(went) - len(came))
            yield from (f"- {_clipped(text, start)}" for text, start in zip(went, starts, strict=False))
            yield from (f"+ {_clipped(text, start)}" for text, start in zip(came, starts, strict=False))


def _shared(one: str, other: str) -> int:
    pairs = zip(one, other, strict=False)
    return next((k for k, (a, b) in enumerate(pairs) if a != b), min(len(one), len(other)))


def _clipped(text: str, start: int) -> str:
    if len(text) <= SHOWN:
        return text
    return f"{'... ' if start else ''}{text[start : start + SHOWN]} ..."


if __name__ == "__main__":
    sys.exit(main())
