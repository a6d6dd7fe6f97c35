"""Whole matrices, and long files that are no sweeps."""

import subprocess
import sys

import numpy as np
import pytest

from sweepkit import read_network
from sweepkit.errors import NotASweep, UnreadableFile
from sweepkit.readers import opening, read_sweep

F_HZ = np.linspace(7e6, 7.4e6, 11)
S = np.array([[[0.1 + 0.01j * k, 0.9], [0.8, 0.2 - 0.02j * k]] for k in range(11)])
ROWS = [
    " ".join(f"{x:.6f}" for x in (f / 1e6, *np.column_stack([s.T.ravel().real, s.T.ravel().imag]).ravel()))
    for f, s in zip(F_HZ, S, strict=True)
]


def written(folder, name, text):
    path = folder / name
    path.write_text(text)
    return path


def test_a_two_port_is_a_network_named_after_its_file(tmp_path):
    path = written(tmp_path, "jumper.s2p", "# MHz S RI R 50\n" + "\n".join(ROWS) + "\n")
    network = read_network(path)
    assert network.name == "jumper"
    np.testing.assert_allclose(network.f, F_HZ)
    np.testing.assert_allclose(network.s, S, atol=1e-6)
    np.testing.assert_allclose(read_sweep(path, trace="s22").gamma, network.s[:, 1, 1], rtol=1e-15)


def test_fallen_frequencies_rise_and_a_twin_is_refused(tmp_path):
    path = written(tmp_path, "down.s2p", "# MHz S RI R 75\n" + "\n".join(reversed(ROWS)) + "\n")
    np.testing.assert_allclose(read_network(path).s, S, atol=1e-6)
    assert (read_network(path).z0 == 75).all()
    twin = written(tmp_path, "twin.s2p", "# MHz S RI R 50\n" + "\n".join([*ROWS, ROWS[3]]) + "\n")
    with pytest.raises(UnreadableFile, match=r"twin.s2p:13: a frequency that stands here a second time"):
        read_network(twin)


def test_a_table_is_no_network(tmp_path):
    path = written(tmp_path, "a.csv", "MHz,R,X\n" + "".join(f"{f},50.5,1.5\n" for f in range(7, 20)))
    with pytest.raises(UnreadableFile, match="read_sweep"):
        read_network(path)


@pytest.mark.parametrize(
    "beginning",
    [
        b"lorem ipsum dolor, sit amet\n" * 4_000,
        b"7.1 50\n7.2 51\n",  # lines of numbers, and nothing behind them
        b"Frequency (MHz),R,X\n" + b"a,b,c\n" * 20_000,
        b"# MHz S RI R 50\n" + b"lorem ipsum dolor\n" * 7_000,
        b"x" * 200_000,
    ],
    ids=["words", "two rows", "words in cells", "words below options", "one line"],
)
def test_a_long_file_of_nonsense_is_refused_by_its_beginning(tmp_path, monkeypatch, beginning):
    monkeypatch.setattr(opening, "FIRST_BYTES", 1 << 16)  # the same of sixteen times as much takes seconds
    path = tmp_path / "long.txt"
    with path.open("wb") as file:
        file.write(beginning)
        file.truncate(1 << 30)  # a hole: reading it whole would take a gigabyte of memory
    import tracemalloc

    tracemalloc.start()
    try:
        with pytest.raises((NotASweep, UnreadableFile)):
            read_sweep(path)
        assert tracemalloc.get_traced_memory()[1] < 60e6
    finally:
        tracemalloc.stop()


def test_a_touchstone_file_needs_neither_the_table_half_nor_heavy_packages(tmp_path):
    path = written(tmp_path, "a.s2p", "# MHz S RI R 50\n" + "\n".join(ROWS) + "\n")
    code = (
        "import sys; from sweepkit.readers import read_sweep; read_sweep(sys.argv[1]); "
        "print([m for m in ('sweepkit.readers.tables.table', 'skrf', 'pandas', 'scipy') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code, str(path)], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_rows_below_a_keyword_among_the_numbers_are_never_dropped_in_silence(tmp_path):
    head = "[Version] 2.0\n# MHz S RI R 50\n[Number of Ports] 1\n[Network Data]\n"
    path = tmp_path / "antenna.s1p"
    path.write_text(head + "7.0 0.5 0.1\n7.1 0.4 0.0\n[Matrix Format] full\n7.2 0.3 -0.1\n[End]\n")
    with pytest.raises(UnreadableFile, match=r":8: a keyword stands among the numbers"):
        read_sweep(path)
