"""Start-up stays light, the exit codes of the documents hold, help is there."""

from __future__ import annotations

import ctypes
import json
import shutil
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace

import pytest

from sweepkit.cli.kept_memory import (
    LARGEST_IN_HEAP,
    MMAP_THRESHOLD,
    MOST_UNUSED,
    TRIM_THRESHOLD,
    keep_memory,
)

ROOT = Path(__file__).resolve().parents[2]
HEAVY = {"skrf", "pandas", "matplotlib", "scipy.signal", "scipy.interpolate", "scipy.constants", "scipy"}


def modules_after(code: str) -> set[str]:
    script = f"import sys, json\n{code}\nprint(json.dumps(sorted(sys.modules)), file=sys.stderr)"
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=True, cwd=ROOT, timeout=60
    )
    return set(json.loads(done.stderr.splitlines()[-1]))


def test_importing_the_package_loads_nothing_heavy():
    assert not modules_after("import sweepkit") & (HEAVY | {"numpy", "typer"})


def test_the_memory_of_arrays_is_kept_where_the_c_library_can(monkeypatch):
    asked = []
    library = SimpleNamespace(mallopt=lambda *option: asked.append(option))
    monkeypatch.setattr(ctypes, "CDLL", lambda name: library)
    monkeypatch.setattr(sys, "platform", "linux")
    keep_memory()
    assert dict(asked) == {MMAP_THRESHOLD: LARGEST_IN_HEAP, TRIM_THRESHOLD: MOST_UNUSED}


@pytest.mark.parametrize("platform", ["linux", "darwin", "win32"])
def test_elsewhere_no_memory_is_kept(monkeypatch, platform):
    def none(name):
        if platform != "linux":
            pytest.fail("no library was to be asked")
        return SimpleNamespace()

    monkeypatch.setattr(ctypes, "CDLL", none)
    monkeypatch.setattr(sys, "platform", platform)
    keep_memory()


def modules_of(*words: str) -> set[str]:
    return modules_after(f"""
import sys
from sweepkit.cli.main import main
sys.argv = {["sweepkit", *words]!r}
try:
    main()
except SystemExit as done:
    assert done.code in (0, None), done.code
""")


def test_a_review_loads_what_it_uses():
    loaded = modules_of("review", "sample_sweeps/ridge_dipole_40m.s1p", "--line", "RG-58 15 m")
    assert not loaded & HEAVY
    elsewhere = ("logbook", "comparison", "trim", "diagnosis", "plots", "writers")
    assert not [name for name in loaded for room in elsewhere if name.startswith(f"sweepkit.{room}")]
    assert not loaded & {
        "sqlite3",
        "tempfile",
        "email",
        "pydantic",
        "sweepkit.readers.tables.table",
        "numpy.ma",
    }
    others = {"compare", "convert", "feedline", "plot", "trim", "diagnose", "log"}
    assert not loaded & {f"sweepkit.cli.{name}" for name in others}


def test_a_table_of_a_folder_loads_neither_pages_nor_comparisons_and_without_draws_no_dice(tmp_path):
    (tmp_path / "sweeps").mkdir()
    shutil.copy(ROOT / "sample_sweeps/ridge_dipole_40m.s1p", tmp_path / "sweeps")
    loaded = modules_of("review", str(tmp_path / "sweeps"), "--draws", "0", "--csv", str(tmp_path / "a.csv"))
    assert "sweepkit.report.tables" in loaded
    elsewhere = ("logbook", "comparison", "report.page", "report.review_page", "reviews.repeats", "plots")
    assert not [name for name in loaded for room in elsewhere if name.startswith(f"sweepkit.{room}")]
    assert not loaded & {"numpy.ma", "numpy.random", "statistics"}


def test_a_diagnosis_acts_its_causes_out_without_a_large_library():
    files = [f"sample_sweeps/meadow_vertical_{k}.s1p" for k in (2, 3)]
    assert not modules_of("diagnose", files[0], "--baseline", files[1], "--kind", "vertical") & HEAVY


def test_help_loads_no_numpy_and_no_command():
    loaded = modules_of("--help")
    assert not loaded & {
        "numpy",
        "sqlite3",
        "sweepkit.logbook",
        "pydantic",
        "sweepkit.cli.review",
        "sweepkit.cli.log",
    }


def test_help_lists_what_is_there(run):
    """The list that imports nothing, and the one of a command line with every command."""
    from typer.testing import CliRunner

    from sweepkit.cli.main import app

    told = run("--help", columns="80").stdout
    whole = CliRunner().invoke(app, ["--help"], env={"COLUMNS": "80"}, prog_name="sweepkit").stdout
    assert told[told.index("Commands:") :] == whole[whole.index("Commands:") :]


def test_every_command_is_there_whichever_is_asked_for():
    from sweepkit.cli.main import COMMANDS, app, command_line

    one = command_line("trim")
    assert [command.name for command in one.registered_commands] == ["trim"]
    named = {command.name for command in app.registered_commands}
    assert named | {group.name for group in app.registered_groups} == set(COMMANDS)


def test_public_names_stay_functions_after_use():
    code = """
import sweepkit
sweep = sweepkit.read_sweep("sample_sweeps/ridge_dipole_40m.s1p")
first = sweepkit.review(sweep, draws=0)
second = sweepkit.review(sweep, draws=0)
assert first.to_json() == second.to_json()
"""
    modules_after(code)


def test_an_unknown_public_name_says_so():
    import sweepkit

    with pytest.raises(AttributeError, match="no attribute 'nonsense'"):
        _ = sweepkit.nonsense


def test_every_command_has_help_and_a_place_in_the_readme(run_process):
    from sweepkit.cli.main import app

    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    names = [command.name for command in app.registered_commands] + [
        group.name for group in app.registered_groups
    ]
    assert names
    for name in names:
        assert f"`sweepkit {name}" in readme, f"README.md does not mention sweepkit {name}"
        done = run_process(name, "--help")
        assert done.returncode == 0
        assert len(done.stdout) > 200


def test_usage_errors_exit_2(run_process):
    assert run_process("review").returncode == 2
    assert run_process("nonsense").returncode == 2


def test_a_fault_of_ours_exits_3_with_a_traceback(monkeypatch, capsys):
    from sweepkit.cli.exits import with_exit_code

    @with_exit_code
    def broken():
        raise RuntimeError("ours")

    with pytest.raises(SystemExit) as done:
        broken()
    assert done.value.code == 3
    assert "Traceback" in capsys.readouterr().err


def test_interruption_exits_130():
    from sweepkit.cli.exits import with_exit_code

    @with_exit_code
    def interrupted():
        raise KeyboardInterrupt

    with pytest.raises(SystemExit) as done:
        interrupted()
    assert done.value.code == 130
