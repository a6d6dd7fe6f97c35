"""What the kit tells of the analyzer's files is used for files that leave it open, and for no others."""

import numpy as np
import pytest

from sweepkit.errors import NeedsHint, UnreadableFile
from sweepkit.kit import Analyzer, read_kit
from sweepkit.logbook import list_sweeps, open_logbook
from sweepkit.logbook.reading import read_logged_sweep
from sweepkit.readers import read_sweep
from tests.readers.nasty_cases import MHZ, RX, SWR, rows
from tests.readers.table_cases import F_HZ, GAMMA, Z_OHM

KIT = Analyzer(columns="f,r,x", unit="MHz", decimal="comma", reference_ohm=75)


def written(folder, text, name="sweep.csv"):
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def codes(sweep):
    return [finding.code for finding in sweep.findings]


def test_a_table_without_headings_is_read_with_the_kit(tmp_path):
    path = written(tmp_path, "\n".join(RX) + "\n")
    with pytest.raises(NeedsHint):
        read_sweep(path)
    sweep = read_sweep(path, if_needed=KIT.hints)
    np.testing.assert_allclose(sweep.f_hz, F_HZ)
    assert np.abs(sweep.gamma - (Z_OHM - 50) / (Z_OHM + 50)).max() < 2e-3
    assert "kit-hints" in codes(sweep)
    assert dict(sweep.source.hints)["columns"] == "f,r,x"


def test_an_option_goes_before_the_kit(tmp_path):
    path = written(tmp_path, "\n".join(rows(MHZ, SWR, forms=("%.4f", "%.3f"))) + "\n")
    sweep = read_sweep(path, columns="f,swr", if_needed=KIT.hints)
    assert dict(sweep.source.hints) == {"unit": "MHz", "reference_ohm": 75}


def test_a_file_that_says_all_is_not_touched(tmp_path):
    table = written(tmp_path, "\n".join(["# Z0 = 50", "Frequency (MHz),R (ohm),X (ohm)", *RX]) + "\n")
    lines = rows(MHZ, GAMMA.real, GAMMA.imag, forms=("%.4f", "%.6f", "%.6f"), sep=" ")
    touchstone = written(tmp_path, "\n".join(["# MHz S RI R 50", *lines]) + "\n", "a.s1p")
    for path in (table, touchstone):
        sweep, plain = read_sweep(path, if_needed=KIT.hints), read_sweep(path)
        assert sweep.source.hints == ()
        assert codes(sweep) == codes(plain)
        assert sweep.reference_ohm == 50


def test_a_reference_that_the_file_leaves_out(tmp_path):
    swr = written(tmp_path, "\n".join(["MHz,SWR", *rows(MHZ, SWR, forms=("%.4f", "%.3f"))]) + "\n")
    assert "reference-assumed" in codes(read_sweep(swr))
    sweep = read_sweep(swr, if_needed=KIT.hints)
    assert sweep.reference_ohm == 75
    assert "reference-assumed" not in codes(sweep)


def test_a_kit_that_does_not_fit_is_named(tmp_path):
    path = written(tmp_path, "\n".join(rows(MHZ, SWR, forms=("%.4f", "%.3f"))) + "\n")
    with pytest.raises(UnreadableFile, match=r"columns = f,r,x came from the kit"):
        read_sweep(path, if_needed=KIT.hints)


@pytest.mark.parametrize(
    "line", ['unit = "THz"', 'decimal = "dot"', "reference_ohm = 0", 'columns = ""', "columns = 3"]
)
def test_what_no_file_has_is_refused_in_the_kit(tmp_path, line):
    path = written(tmp_path, f"[analyzer]\n{line}\n", "kit.toml")
    with pytest.raises(Exception, match=r"kit.toml:2: .*write"):
        read_kit(path)


def test_every_command_and_the_logbook_use_the_kit(run, tmp_path):
    written(tmp_path, '[analyzer]\ncolumns = "f,r,x"\nunit = "MHz"\nreference_ohm = 50\n', "kit.toml")
    path, kit = written(tmp_path, "\n".join(RX) + "\n"), tmp_path / "kit.toml"
    for command in ("review", "diagnose"):
        assert run(command, path).returncode == 2
        assert run(command, path, "--kit", kit, "--draws", "20").returncode == 0
    assert "kit-hints" in run("review", path, "--kit", kit, "--json", "--draws", "20").stdout
    assert "# " in run("convert", path, "--to", "touchstone", "--kit", kit).stdout
    log = tmp_path / "log.sqlite"
    assert run("log", "add", path, "--kit", kit, "--log", log, "--antenna", "dipole").stdout.strip() == "1"
    with open_logbook(log) as opened:
        (logged,) = list_sweeps(opened)
        assert read_logged_sweep(opened, logged).f_hz.size == F_HZ.size
    assert logged.hints == {"columns": "f,r,x", "unit": "MHz"}  # ohms need no reference


@pytest.mark.parametrize("told", ["Hz", "MHz"])
def test_a_wrong_unit_told_names_the_one_that_gives_short_waves(tmp_path, told):
    table = rows(1e3 * MHZ, Z_OHM.real, Z_OHM.imag, forms=("%.1f", "%.2f", "%.2f"))
    path = written(tmp_path, "\n".join(["Frequency,R,X", *table]))
    doubts = [finding for finding in read_sweep(path, unit=told).findings if finding.code == "unit-doubtful"]
    assert [doubt.next_step for doubt in doubts] == ["pass --unit kHz"]


def test_a_sweep_of_higher_bands_keeps_its_unit(tmp_path):
    table = rows(430 + MHZ, Z_OHM.real, Z_OHM.imag, forms=("%.4f", "%.2f", "%.2f"))
    path = written(tmp_path, "\n".join(["Frequency,R,X", *table]))
    assert "unit-doubtful" not in codes(read_sweep(path, unit="MHz"))
