"""One reflection of files with one to five ports, in every parameter, number format and matrix layout.

The expected reflections are those of the network that was written; conversions are exact mathematics. H and G
are written from their definitions (Touchstone File Format Specification 2.1, "Network Parameter Data").
"""

from __future__ import annotations

import numpy as np
import pytest
import skrf.network

from sweepkit.errors import BadInput, UnreadableFile
from sweepkit.readers import read_sweep

F_MHZ = [1.0, 2.0, 3.0, 4.0, 5.0]
UNEQUAL_OHM = [50.0, 75.0, 25.0, 100.0]


def passive(ports: int) -> np.ndarray:
    """Reciprocal scattering matrices that lose power."""
    dice = np.random.default_rng(ports)
    s = dice.normal(size=(5, ports, ports)) + 1j * dice.normal(size=(5, ports, ports))
    s = (s + s.transpose(0, 2, 1)) / 2
    return s / np.linalg.norm(s, 2, axis=(1, 2))[:, None, None] * 0.8


def printed(value: complex, form: str) -> str:
    value = complex(value)
    if form == "RI":
        return f"{value.real!r} {value.imag!r}"
    size = abs(value) if form == "MA" else 20 * float(np.log10(abs(value)))
    return f"{size!r} {float(np.degrees(np.angle(value)))!r}"


def version_1(matrix: np.ndarray, form: str = "RI", kind: str = "S", reference_ohm: float = 50) -> str:
    """Four pairs a line, each row of the matrix on a line of its own; a two-port column by column."""
    lines = [f"# MHz {kind} {form} R {reference_ohm:g}"]
    for f_mhz, point in zip(F_MHZ, matrix, strict=True):
        rows = [point.T.ravel()] if len(point) == 2 else list(point)
        pieces = [row[at : at + 4] for row in rows for at in range(0, len(row), 4)]
        texts = [" ".join(printed(value, form) for value in piece) for piece in pieces]
        lines += [f"{f_mhz!r} {texts[0]}", *texts[1:]]
    return "\n".join(lines) + "\n"


def version_2(matrix: np.ndarray, kind: str, triangle: str, references_ohm: list[float]) -> str:
    ports = matrix.shape[1]
    lines = ["[Version] 2.1", f"# MHz {kind} RI", f"[Number of Ports] {ports}"]
    lines += ["[Two-Port Data Order] 12_21"] if ports == 2 else []
    lines += [f"[Number of Frequencies] {len(F_MHZ)}", f"[Reference] {references_ohm[0]:g}"]
    lines += [f"{one:g}" for one in references_ohm[1:]]
    lines += [
        f"[Matrix Format] {triangle}",
        "[Begin Information]",
        "[Maker] none",
        "1 2 3",
        "[End Information]",
    ]
    lines += ["[Network Data]"]
    for f_mhz, point in zip(F_MHZ, matrix, strict=True):
        begin = {"Lower": lambda i: slice(0, i + 1), "Upper": lambda i: slice(i, None)}.get(triangle)
        rows = [point[i][begin(i)] if begin else point[i] for i in range(ports)]
        texts = [" ".join(printed(value, "RI") for value in row) for row in rows]
        lines += [f"{f_mhz!r} {texts[0]}", *texts[1:]]
    return "\n".join([*lines, "[End]"]) + "\n"


def written(folder, text: str, name: str):
    path = folder / name
    path.write_text(text)
    return path


@pytest.mark.identity
@pytest.mark.parametrize("ports", [1, 2, 3, 4, 5])
@pytest.mark.parametrize("form", ["RI", "MA", "DB"])
def test_any_port_of_a_version_1_file_whatever_its_name(tmp_path, ports, form):
    s = passive(ports)
    for name in (f"antenna.s{ports}p", "antenna.txt"):
        path = written(tmp_path, version_1(s, form), name)
        for port in range(ports):
            sweep = read_sweep(path, trace=f"s{port + 1}{port + 1}")
            np.testing.assert_allclose(sweep.gamma, s[:, port, port], atol=1e-12)
    codes = [finding.code for finding in read_sweep(path).findings]
    assert codes == (["one-port-of-several"] if ports > 1 else [])


@pytest.mark.identity
@pytest.mark.parametrize("ports", [1, 2, 3])
@pytest.mark.parametrize("kind", ["Z", "Y"])
def test_version_1_holds_impedance_and_admittance_divided_by_the_reference(tmp_path, ports, kind):
    s = passive(ports)
    matrix = skrf.network.s2z(s, 75) / 75 if kind == "Z" else skrf.network.s2y(s, 75) * 75
    sweep = read_sweep(written(tmp_path, version_1(matrix, "RI", kind, 75), f"antenna.s{ports}p"))
    assert sweep.reference_ohm == 75
    np.testing.assert_allclose(sweep.gamma, s[:, 0, 0], atol=1e-12)


def hybrid(s: np.ndarray) -> np.ndarray:
    """H parameters against 50 ohm, from Z by their definition. [ohm, -, -, siemens]"""
    z = skrf.network.s2z(s, 50)
    z11, z12, z21, z22 = z[:, 0, 0], z[:, 0, 1], z[:, 1, 0], z[:, 1, 1]
    rows = [[(z11 * z22 - z12 * z21) / z22, z12 / z22], [-z21 / z22, 1 / z22]]
    return np.moveaxis(np.array(rows), 2, 0)


@pytest.mark.identity
def test_hybrid_parameters_of_two_ports(tmp_path):
    s = passive(2)
    h = hybrid(s)
    by_r = np.array([[50, 1], [1, 1 / 50]])
    for kind, matrix in (("H", h / by_r), ("G", np.linalg.inv(h) * by_r)):
        path = written(tmp_path, version_1(matrix, "RI", kind), "antenna.s2p")
        np.testing.assert_allclose(read_sweep(path).gamma, s[:, 0, 0], atol=1e-12)
        np.testing.assert_allclose(read_sweep(path, trace="s22").gamma, s[:, 1, 1], atol=1e-12)
    text = version_2(h, "H", "Full", [50, 50])
    np.testing.assert_allclose(read_sweep(written(tmp_path, text, "a.ts")).gamma, s[:, 0, 0], atol=1e-12)


@pytest.mark.identity
@pytest.mark.parametrize("ports", [1, 2, 3, 4])
@pytest.mark.parametrize("triangle", ["Full", "Lower", "Upper"])
@pytest.mark.parametrize("kind", ["S", "Z", "Y"])
def test_keyword_files_with_a_reference_of_each_port(tmp_path, ports, triangle, kind):
    s, references_ohm = passive(ports), UNEQUAL_OHM[:ports]
    z0 = np.array(references_ohm)
    matrix = {"S": s, "Z": skrf.network.s2z(s, z0), "Y": skrf.network.s2y(s, z0)}[kind]
    path = written(tmp_path, version_2(matrix, kind, triangle, references_ohm), "antenna.ts")
    for port in range(ports):
        sweep = read_sweep(path, trace=f"s{port + 1},{port + 1}")
        np.testing.assert_allclose(sweep.gamma, s[:, port, port], atol=1e-12)
        assert sweep.reference_ohm == references_ohm[port]


def test_rows_of_a_two_port_that_step_back_are_sorted_and_none_is_lost(tmp_path):
    s = passive(2)
    head, *rows = version_1(s).splitlines()
    path = written(tmp_path, "\n".join([head, *rows[::-1]]), "antenna.s2p")
    np.testing.assert_allclose(read_sweep(path).gamma, s[:, 0, 0], atol=1e-12)


def test_noise_rows_of_a_two_port_are_no_points(tmp_path):
    s = passive(2)
    path = written(tmp_path, version_1(s) + "1.0 2 .3 40 .5\n2.0 2 .3 40 .5\n", "amplifier.s2p")
    assert read_sweep(path).f_hz.size == len(F_MHZ)


@pytest.mark.parametrize(
    ("name", "change", "words"),
    [
        ("antenna.s2p", lambda s: version_1(s[:, :1, :1]), r":2: line has 3 numbers, 9 expected .*2 ports"),
        ("antenna.s1p", version_1, r":2: line has 9 numbers, 3 expected"),
        (
            "antenna.s2p",
            lambda s: version_1(s) + "6 1 2 3 4\n",
            r":7: line has 5 numbers, 9 expected; .*cut short",
        ),
        ("antenna.s2p", lambda s: version_1(s) + "1 1 2 3 4\n2 1 2\n", r":8: line has 3 numbers, 5 expected"),
        ("a.txt", lambda s: "# MHz S RI R 50\n1 .1 .1 .2 .2\n2 .1 .1 .2 .2\n", r":2: line has 5 numbers"),
        (
            "a.s3p",
            lambda s: version_1(passive(3)).replace("\n2.0", "\n2.0 1"),
            r":5: line has 8 numbers, 19 expected",
        ),
    ],
)
def test_a_wrong_count_of_numbers_is_refused_with_its_line(tmp_path, name, change, words):
    with pytest.raises(UnreadableFile, match=words):
        read_sweep(written(tmp_path, change(passive(2)), name))


def test_a_port_that_is_not_there_and_a_transmission_are_refused(tmp_path):
    path = written(tmp_path, version_1(passive(2)), "antenna.s2p")
    for trace in ("s33", "s21", "feed"):
        with pytest.raises(BadInput, match=r"this file has the reflections s11, s22"):
            read_sweep(path, trace=trace)


KEYWORD_FILE = version_2(passive(1), "S", "Full", [50])


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("[Version] 2.1", "[Version] 3.0", r":1: \[Version\] 3.0; expected 2.0 or 2.1"),
        ("[Matrix Format]", "[Layout]", r":6: unknown keyword \[layout\]"),
        (
            "[Number of Frequencies] 5",
            "[Number of Frequencies] 6",
            r":4: \[Number of Frequencies\] is 6, .* holds 5",
        ),
        ("[Number of Ports] 1\n", "", r":2: no \[Number of Ports\]"),
        ("[Number of Ports] 1", "[Number of Ports] one", r":3: \[number of ports\] is 'one'"),
        ("[Reference] 50", "[Reference] 50 75", r":5: \[Reference\] is '50 75'; expected 1"),
        ("[Reference] 50", "[Reference] 0", r":5: \[Reference\] is '0'"),
        ("[End]\n", "[End]\n6.0 0.1 0.1\n", r":18: text after \[End\]"),
        ("[End Information]\n", "", r":7: \[Begin Information\] has no end"),
        ("[Network Data]", "[Mixed-Mode Order] D1,2 C1,2\n[Network Data]", r":11: mixed-mode parameters"),
        ("[Reference] 50", "[Reference] 50\n[Reference] 50", r":6: \[reference\] stands here a second time"),
        ("Full", "Diagonal", r":6: \[matrix format\] is 'Diagonal'; expected full or lower or upper"),
    ],
)
def test_a_broken_keyword_file_is_refused_with_its_line(tmp_path, old, new, words):
    assert old in KEYWORD_FILE
    with pytest.raises(UnreadableFile, match=r"antenna\.ts" + words):
        read_sweep(written(tmp_path, KEYWORD_FILE.replace(old, new), "antenna.ts"))


def test_keywords_in_lower_case_and_without_network_data_are_read(tmp_path):
    text = KEYWORD_FILE.lower().replace("[network data]\n", "")
    np.testing.assert_allclose(
        read_sweep(written(tmp_path, text, "antenna.ts")).gamma, passive(1)[:, 0, 0], atol=1e-12
    )
