"""Real processes whose stdout goes away, is closed or full; Ctrl-C; saving over what was read."""

from __future__ import annotations

import os
import pkgutil
import random
import shutil
import signal
import sqlite3
import subprocess
import sys
import time
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
POSIX = pytest.mark.skipif(
    os.name == "nt", reason="pipes, closed streams and signals are another matter there"
)
OUTPUTS = ("q.csv", "q.png", "q.html")
LATEST_S = 0.9  # an interrupt after this finds most runs done


def command(sample: Path, *words: str) -> list[str]:
    return [sys.executable, "-m", "sweepkit", "review", str(sample), "--draws", "20", *words]


def shell(line: str, folder: Path, sample: Path) -> subprocess.CompletedProcess[str]:
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "RUN": " ".join(command(sample))}
    return subprocess.run(
        ["bash", "-c", f"set -o pipefail; {line}"],
        cwd=folder, env=environment, capture_output=True, text=True, check=False, timeout=120,
    )  # fmt: skip


@pytest.fixture
def sample(samples) -> Path:
    return samples / "ridge_dipole_40m.s1p"


@POSIX
@pytest.mark.parametrize(
    ("line", "code", "said"),
    [
        ("$RUN --csv q.csv --plot q.png --report q.html | true", 0, ""),
        ("$RUN --csv q.csv --plot q.png --report q.html --json | head -2 >&2", 0, None),
        ("$RUN --csv q.csv --plot q.png --report q.html --strict --band '20 m' | true", 1, ""),
        ("$RUN --csv q.csv --plot q.png --report q.html >&-", 2, "cannot be written (it is closed)"),
        ("$RUN --csv q.csv --plot q.png --report q.html >/dev/full", 2, "cannot be written (No space left"),
    ],
    ids=["gone", "read in part", "gone and strict", "closed", "full"],
)
def test_files_are_written_whatever_becomes_of_stdout(tmp_path, sample, line, code, said):
    if "/dev/full" in line and not Path("/dev/full").exists():
        pytest.skip("no /dev/full here")
    done = shell(line, tmp_path, sample)
    assert done.returncode == code, done.stderr
    assert all((tmp_path / name).stat().st_size > 100 for name in OUTPUTS)
    if said is not None:
        assert said in done.stderr
        assert done.stderr.count("\n") == bool(said)


@POSIX
def test_a_closed_stderr_and_letters_that_cannot_be_encoded_change_no_code(tmp_path, sample):
    assert shell("$RUN 2>&- >/dev/null", tmp_path, sample).returncode == 0
    done = shell("PYTHONIOENCODING=ascii $RUN --line 'RG-58 15 m'", tmp_path, sample)
    assert done.returncode == 0
    assert done.stdout.isascii()


@POSIX
def test_nonsense_for_a_drawing_window_is_no_matter(tmp_path, sample):
    done = shell("MPLBACKEND=nonsense $RUN --plot q.png --report q.html", tmp_path, sample)
    assert (done.returncode, done.stderr) == (0, "")


def interrupted(folder: Path, sample: Path, after_s: float) -> subprocess.CompletedProcess[str]:
    """A run with every output, interrupted once; the handler is waited for, since Python itself has none yet."""
    ready = folder / "ready"
    code = (
        "import sys; from sweepkit.cli import interrupt; interrupt.watch(); open(sys.argv.pop(), 'w').close();"
        "from sweepkit.__main__ import main; main()"
    )
    words = [*command(sample, "--csv", "q.csv", "--plot", "q.png", "--report", "q.html")[3:], str(ready)]
    process = subprocess.Popen(
        [sys.executable, "-c", code, *words],
        cwd=folder, env={**os.environ, "PYTHONPATH": str(ROOT)},
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip
    while not ready.exists() and process.poll() is None:
        time.sleep(0.001)
    time.sleep(after_s)
    process.send_signal(signal.SIGINT)
    out, err = process.communicate(timeout=120)
    return subprocess.CompletedProcess(words, process.returncode, out, err)


def assert_clean_end(folder: Path, done: subprocess.CompletedProcess[str]) -> None:
    assert done.returncode in (0, 130), done.stderr
    assert done.stderr == ""
    left = {path.name for path in folder.iterdir()} - {"ready"}
    assert left <= set(OUTPUTS), left
    whole = {"q.csv": b"\n", "q.png": b"IEND\xaeB`\x82", "q.html": b"</html>\n"}
    for name in left:
        assert (folder / name).read_bytes().endswith(whole[name])


@POSIX
@pytest.mark.parametrize("after_s", [0.05, 0.2])
def test_an_interrupt_ends_with_130_and_no_half_file(tmp_path, sample, after_s):
    assert_clean_end(tmp_path, interrupted(tmp_path, sample, after_s))


@POSIX
@pytest.mark.slow
def test_interrupts_at_a_hundred_random_moments(tmp_path, sample):
    chance = random.Random(1)
    codes = []
    for number in range(100):
        folder = tmp_path / str(number)
        folder.mkdir()
        done = interrupted(folder, sample, chance.uniform(0, 3 * LATEST_S))
        assert_clean_end(folder, done)
        codes.append(done.returncode)
    print({code: codes.count(code) for code in set(codes)})
    assert codes.count(130) > 20


@pytest.mark.parametrize("link", ["itself", "symlink", "hard link"])
def test_nothing_that_was_read_is_written_over(run, sample, tmp_path, link):
    sweep, kit, bands = tmp_path / "a.s1p", tmp_path / "kit.toml", tmp_path / "bands.csv"
    shutil.copy(sample, sweep)
    kit.write_text("region = 2\n")
    bands.write_text("name,region,low,high\n40 m,,7 MHz,7.2 MHz\n")
    for path in (sweep, kit, bands):
        before, target = path.read_bytes(), path
        if link != "itself":
            target = tmp_path / f"link-{path.name}"
            try:
                target.symlink_to(path) if link == "symlink" else target.hardlink_to(path)
            except OSError:
                pytest.skip("no such links here")
        done = run("review", sweep, "--kit", kit, "--bands", bands, "--draws", 0, "--csv", target, "--force")
        assert done.returncode == 2
        assert "stays as it is" in done.stderr
        assert path.read_bytes() == before


def test_no_database_is_written_over(run, sample, tmp_path):
    log = tmp_path / "log.sqlite"
    with sqlite3.connect(log) as connection:
        connection.execute("create table t (x)")
    connection.close()
    before = log.read_bytes()
    done = run("convert", sample, "--to", "csv", "-o", log, "--force")
    assert done.returncode == 2
    assert "is a database" in done.stderr
    assert log.read_bytes() == before


def test_an_output_can_be_written_again_and_what_is_no_file_stays(run, sample, tmp_path):
    table = tmp_path / "a.csv"
    for force in ((), ("--force",), ("--force",)):
        assert run("review", sample, "--draws", 0, "--csv", table, *force).returncode == 0
    assert run("review", sample, "--draws", 0, "--csv", table).returncode == 2
    done = run("review", sample, "--draws", 0, "--csv", os.devnull, "--force")
    assert done.returncode == 2
    assert not Path(os.devnull).is_file()


MAKES = {
    "json": ("sweepkit.reviews.Review.to_json", ["--json"]),
    "json beside a page": ("sweepkit.reviews.Review.to_json", ["--json", "--report", "q.md"]),
    "card": ("sweepkit.report.card.render_card", ["--card"]),
    "text": ("sweepkit.report.review_page.review_page", []),
    "page": ("sweepkit.report.review_page.review_page", ["--report", "q.md", "--json"]),
    "row": ("sweepkit.report.tables.review_row", ["--json", "--csv", "q.csv"]),
    "row beside a page": ("sweepkit.report.tables.review_row", ["--report", "q.md", "--csv", "q.csv"]),
}


@pytest.mark.parametrize(("what", "bad"), [*((what, "b") for what in MAKES), ("text", "a"), ("text", "c")])
def test_an_answer_that_cannot_be_shown_takes_no_other_along(run, tmp_path, monkeypatch, what, bad):
    """A fault planted in what makes the text, the page or the row of one file of three."""
    (tmp_path / "in").mkdir()
    for name in "abc":
        rows = "".join(f"{7 + k / 20:.2f} {0.1 + k / 20:.4f} {k / 40 - 0.1:.4f}\n" for k in range(9))
        (tmp_path / "in" / f"{name}.s1p").write_text("# MHz S RI R 50\n" + rows)
    target, words = MAKES[what]
    holder, name = pkgutil.resolve_name(target.rpartition(".")[0]), target.rpartition(".")[2]
    real = getattr(holder, name)

    def planted(answer, *more, **known):
        if f"{bad}.s1p" in str(answer if isinstance(answer, dict) else answer.sweep.source):
            raise RuntimeError("ours")
        return real(answer, *more, **known)

    monkeypatch.setattr(holder, name, planted)
    done = run("review", "in", "--draws", 0, *words, cwd=tmp_path)
    assert done.returncode == 3
    assert "RuntimeError: ours" in done.stderr
    made = {"json": done.stdout, "text": done.stdout, "card": done.stdout}
    made |= {path.suffix: path.read_text(encoding="utf-8") for path in tmp_path.glob("q.*")}
    shown = made[{"page": ".md", "row": ".csv"}.get(what.split()[0], what.split()[0])]
    assert all(f"{name}.s1p" in shown for name in "abc" if name != bad)
    if what.startswith("json"):
        assert done.stdout.count('"sweepkit/review/1"') == 2
        assert done.stdout.count('"sweepkit/error/1"') == 1
    else:
        assert f"{bad}.s1p" not in shown


def test_each_of_several_cards_stands_under_its_file_and_keeps_its_columns(run, sample, tmp_path):
    names = ["a.s1p", "evening_on_the_ridge_with_the_second_counterpoise.s1p"]
    for name in names:
        shutil.copy(sample, tmp_path / name)
    alone = run("review", names[0], "--draws", 0, "--card", cwd=tmp_path).stdout
    first, second = run("review", *names, "--draws", 0, "--card", cwd=tmp_path).stdout.split("\n\n")
    assert first == f"a.s1p\n{alone}".rstrip("\n")
    assert second.splitlines()[0] == "evening_on_the_ridg..nd_counterpoise.s1p"
    assert len(second.splitlines()[0]) == 40


def test_one_file_that_fails_takes_no_other_along(run, sample, tmp_path, monkeypatch):
    import sweepkit.reviews.many

    real = sweepkit.reviews.many.review_alike
    for name in ("a.s1p", "b.s1p", "c.s1p"):
        shutil.copy(sample, tmp_path)
        (tmp_path / sample.name).rename(tmp_path / name)
    for error, code in ((MemoryError(), 2), (OSError(5, "no such device"), 2), (RuntimeError("ours"), 3)):

        def review_alike(sweeps, asked, error=error):
            if any(sweep.source.path.endswith("b.s1p") for sweep in sweeps):
                raise error
            return real(sweeps, asked)

        monkeypatch.setattr(sweepkit.reviews.many, "review_alike", review_alike)
        done = run("review", tmp_path, "--draws", 0, "--csv", tmp_path / "q", "--force", "--json")
        assert done.returncode == code
        assert done.stdout.count('"sweepkit/review/1"') == 2
        assert done.stdout.count('"sweepkit/error/1"') == 1
        assert (tmp_path / "q").read_text().count("\n") == 3
        (tmp_path / "q").unlink()
