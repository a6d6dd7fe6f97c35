"""A digit, mark or sign that slipped in one row is found from the curve around it; an honest lone point is not."""

import re

import numpy as np
import pytest

from sweepkit.errors import UnreadableFile
from sweepkit.readers import read_sweep
from sweepkit.readers.slips import one_slip_away

F_HZ = np.round(np.linspace(13.9e6, 14.5e6, 121))
Z_OHM = 58 * (1 + 0.8 * (F_HZ / 14.2e6 - 1) + 1j * 13 * (F_HZ / 14.2e6 - 14.2e6 / F_HZ)) + 2j
GAMMA = (Z_OHM - 50) / (Z_OHM + 50)
SIZE = np.abs(GAMMA)
SWR = (1 + SIZE) / (1 - SIZE)
HEADS = {
    "RI": ("# MHz S RI R 50", " ", (GAMMA.real, GAMMA.imag), ("%.4f", "%.6f", "%.6f")),
    "DB": (
        "# MHz S DB R 50",
        " ",
        (20 * np.log10(SIZE), np.degrees(np.angle(GAMMA))),
        ("%.4f", "%.3f", "%.3f"),
    ),
    "Z": ("# MHz Z RI R 50", " ", (Z_OHM.real / 50, Z_OHM.imag / 50), ("%.4f", "%.5f", "%.5f")),
    "R and X": ("Frequency (MHz),R (ohm),X (ohm)", ",", (Z_OHM.real, Z_OHM.imag), ("%.4f", "%.2f", "%.2f")),
    "shortest": ("Frequency (MHz),R (ohm),X (ohm)", ",", (Z_OHM.real, Z_OHM.imag), ("%.6g", "%.5g", "%.5g")),
    "|Z|": (
        "Frequency (MHz),|Z| (ohm),Phase(Z) (deg)",
        ",",
        (np.abs(Z_OHM), np.degrees(np.angle(Z_OHM))),
        ("%.4f", "%.2f", "%.2f"),
    ),
}


def rows(name: str, f_hz=F_HZ) -> list[list[str]]:
    _, _, columns, forms = HEADS[name]
    return [
        [form % value for form, value in zip(forms, row, strict=True)]
        for row in zip(f_hz / 1e6, *columns, strict=True)
    ]


def write(folder, name: str, cells: list[list[str]]):
    head, separator, _, _ = HEADS[name]
    path = folder / ("sweep.s1p" if head.startswith("#") else "sweep.csv")
    path.write_text("\n".join([head, *(separator.join(row) for row in cells)]) + "\n")
    return path


def leading(text: str) -> int:
    """Place of the first digit that is not 0."""
    return next(at for at, sign in enumerate(text) if sign in "123456789")


SLIPS = {
    "digit changed": lambda t: t[: leading(t)] + str((int(t[leading(t)]) + 4) % 10) + t[leading(t) + 1 :],
    "digit added": lambda t: t[: leading(t)] + "7" + t[leading(t) :],
    "digit lost": lambda t: t[: leading(t)] + t[leading(t) + 1 :],
    "sign": lambda t: t[1:] if t.startswith("-") else "-" + t,
}


@pytest.mark.parametrize("slip", SLIPS)
@pytest.mark.parametrize("name", HEADS)
def test_a_slip_in_one_number_is_refused_with_its_line(tmp_path, name, slip):
    for at, column in ((9, 1), (30, 2), (100, 1), (111, 2)):
        cells = rows(name)
        cells[at][column] = SLIPS[slip](cells[at][column])
        with pytest.raises(UnreadableFile, match=rf":{at + 2}: .*; expected .*; "):
            read_sweep(write(tmp_path, name, cells))


@pytest.mark.parametrize("at", [0, 1, 119, 120])
@pytest.mark.parametrize("name", ["RI", "Z", "R and X"])
def test_a_slip_in_the_first_and_last_rows_is_refused(tmp_path, name, at):
    cells = rows(name)
    cells[at][2] = SLIPS["sign"](cells[at][2])
    with pytest.raises(UnreadableFile, match=rf":{at + 2}: .* one slip away"):
        read_sweep(write(tmp_path, name, cells))


@pytest.mark.parametrize("at", [0, 1, 40, 119, 120])
@pytest.mark.parametrize("slip", ["digit changed", "digit added", "swapped", "mark"])
def test_a_slip_in_a_frequency_is_refused_with_its_line(tmp_path, at, slip):
    cells = rows("R and X")
    text = cells[at][0]
    cells[at][0] = {
        "digit changed": text[:3] + str((int(text[3]) + 3) % 10) + text[4:],
        "digit added": text[:2] + "1" + text[2:],
        "swapped": text[1] + text[0] + text[2:],
        "mark": text[0] + "." + text[1] + text[3:],
    }[slip]
    with pytest.raises(UnreadableFile, match=rf":{at + 2}: "):
        read_sweep(write(tmp_path, "R and X", cells))


def test_a_slip_in_a_frequency_of_even_ratios_is_refused(tmp_path):
    cells = rows("R and X", np.geomspace(1e6, 30e6, F_HZ.size))
    assert read_sweep(write(tmp_path, "R and X", cells)).f_hz.size == F_HZ.size
    cells[50][0] = cells[50][0].replace(".", ".9", 1)[:6]
    with pytest.raises(UnreadableFile, match=r":52: .* grid that is even"):
        read_sweep(write(tmp_path, "R and X", cells))


def test_a_slip_in_a_file_of_sizes_alone_is_said(tmp_path):
    lines = [f"{f / 1e6:.4f},{s:.3f}" for f, s in zip(F_HZ, SWR, strict=True)]
    path = tmp_path / "swr.csv"
    path.write_text("\n".join(["Frequency (MHz),SWR", *lines]) + "\n")
    assert "row-doubtful" not in {one.code for one in read_sweep(path).findings}
    lines[30] = lines[30].replace(",", ",4", 1)
    path.write_text("\n".join(["Frequency (MHz),SWR", *lines]) + "\n")
    said = [one.text for one in read_sweep(path).findings if one.code == "row-doubtful"]
    assert len(said) == 1
    assert re.match(r"line 32: 4\d\.\d{3} in column SWR is .*, one slip away,", said[0])


def test_a_slip_is_found_in_other_ways_of_writing(tmp_path):
    head, _, (r, x), _ = HEADS["R and X"]
    lines = [f"{f / 1e6:.4f};{a:.2f};{b:.2f}" for f, a, b in zip(F_HZ, r, x, strict=True)]
    lines[30] = lines[30].replace(";-", ";")
    for text in (
        "\n".join([head.replace(",", ";"), *lines]).replace(".", ","),
        "\n".join([head.replace(",", ";"), *lines]),
    ):
        for minus in ("-", "\u2212"):
            path = tmp_path / "sweep.csv"
            path.write_text(text.replace("-", minus) + "\n", encoding="utf-8")
            with pytest.raises(UnreadableFile, match=r":32: .* one slip away"):
                read_sweep(path)


def test_what_is_no_finite_number_is_refused_as_such(tmp_path):
    for column, word in ((0, "1e+999"), (1, "1e+999"), (2, "1e+300"), (0, "-14.2")):
        cells = rows("RI")
        cells[40][column] = word
        with pytest.raises(UnreadableFile, match=r":42: "):
            read_sweep(write(tmp_path, "RI", cells))


def test_a_lone_point_of_another_station_is_read(tmp_path):
    # off in both numbers and by no slip: measured so, and no reader's business
    dice = np.random.default_rng(3)
    noise = 0.002 * (dice.normal(size=F_HZ.size) + 1j * dice.normal(size=F_HZ.size))
    sound = [
        [f"{f / 1e6:.4f}", f"{g.real:.3f}", f"{g.imag:.3f}"] for f, g in zip(F_HZ, GAMMA + noise, strict=True)
    ]
    for _ in range(25):
        cells = [list(row) for row in sound]
        at = int(dice.integers(3, 118))
        other = GAMMA[at] * 0.7 + 0.25 * np.exp(2j * np.pi * dice.random())
        cells[at][1:] = [f"{other.real:.3f}", f"{other.imag:.3f}"]
        assert read_sweep(write(tmp_path, "RI", cells)).f_hz.size == F_HZ.size


def test_a_noisy_sweep_is_read(tmp_path):
    dice = np.random.default_rng(8)
    for noise in np.geomspace(0.003, 0.1, 12):
        noisy = 0.8 * GAMMA + noise * (dice.normal(size=F_HZ.size) + 1j * dice.normal(size=F_HZ.size))
        z_ohm = 50 * (1 + noisy) / (1 - noisy)
        for name, columns in (("RI", (noisy.real, noisy.imag)), ("R and X", (z_ohm.real, z_ohm.imag))):
            cells = [
                [f"{f / 1e6:.4f}", f"{a:.2f}", f"{b:.2f}"] for f, a, b in zip(F_HZ, *columns, strict=True)
            ]
            assert read_sweep(write(tmp_path, name, cells)).f_hz.size == F_HZ.size


@pytest.mark.parametrize("q", [200, 600, 1500])
@pytest.mark.parametrize("widths", [0.3, 1.0, 4.0, 20.0, 100.0])
def test_a_sharp_resonance_in_coarse_steps_is_read(tmp_path, q, widths):
    for moved in (0.0, 0.5):
        f_hz = 14.2e6 + (np.arange(121) - 60 + moved) * widths * 14.2e6 / q
        f_hz = f_hz[(f_hz > 1e6) & (f_hz < 3e8)]
        z_ohm = 50 + 40 / (1 + 1j * q * (f_hz / 14.2e6 - 14.2e6 / f_hz))
        for digits in (0, 1, 3, 6):
            lines = [
                f"{f:.0f},{z.real:.{digits}f},{z.imag:.{digits}f}" for f, z in zip(f_hz, z_ohm, strict=True)
            ]
            path = tmp_path / "loop.csv"
            path.write_text("\n".join(["Frequency (Hz),R (ohm),X (ohm)", *lines]) + "\n")
            assert read_sweep(path).f_hz.size == f_hz.size


@pytest.mark.identity
@pytest.mark.parametrize(
    ("whole", "slipped"),
    [
        ("48.25", "43.25"),
        ("48.25", "4.25"),
        ("48.25", "488.25"),
        ("48.25", "84.25"),
        ("48.25", "-48.25"),
        ("-7.5", "7.5"),
        ("48.25", "4.825"),
        ("48.25", "4825"),
        ("7.1000", ".1000"),
        ("7.1", "17.1"),
    ],
)
def test_every_slip_is_undone(whole, slipped):
    assert any(whole in kind for kind in one_slip_away(slipped))


@pytest.mark.parametrize("form", ["%.3g", "%.4g", "%.2f"])
def test_a_burst_in_a_column_of_swr_is_read(tmp_path, form):
    dice = np.random.default_rng(7)
    for _ in range(15):
        swr, at = SWR.copy(), int(dice.integers(2, F_HZ.size - 2))
        swr[at] = swr[at] * 10 ** dice.integers(1, 3) * dice.uniform(0.97, 1.03)  # as a lost mark would print
        lines = [f"{f / 1e6:.4f},{form % value}" for f, value in zip(F_HZ, swr, strict=True)]
        path = tmp_path / "swr.csv"
        path.write_text("\n".join(["Frequency (MHz),SWR", *lines]) + "\n")
        codes = [finding.code for finding in read_sweep(path).findings]
        assert codes.count("row-doubtful") <= 1


@pytest.mark.parametrize("end", ["-5", "-5.", "-5.600000", "-5.6e-01", "-5.600000e-0", ""])
def test_a_last_number_cut_short_is_refused(tmp_path, end):
    lines = [f"{f:.0f} {g.real:.6e} {g.imag:.6e}" for f, g in zip(F_HZ, GAMMA, strict=True)]
    path = tmp_path / "sweep.s1p"
    path.write_text("\n".join(["# Hz S RI R 50", *lines, f"14600000 {lines[-1].split()[1]} {end}"]))
    with pytest.raises(UnreadableFile, match=rf":{F_HZ.size + 2}: "):
        read_sweep(path)


@pytest.mark.parametrize("name", ["RI", "DB", "Z", "R and X", "|Z|"])
@pytest.mark.parametrize("run", [1, 2, 12])
def test_numbers_that_changed_places_are_found(tmp_path, name, run):
    for at in (20, 60):
        cells = rows(name)
        for row in cells[at : at + run]:
            row[1], row[2] = row[2], row[1]
        try:
            codes = [finding.code for finding in read_sweep(write(tmp_path, name, cells)).findings]
        except UnreadableFile as error:
            assert error.line in range(at + 2, at + run + 2)
        else:
            assert "row-doubtful" in codes


def test_a_frequency_that_changed_places_is_refused(tmp_path):
    cells = rows("R and X")
    cells[40][0], cells[40][1] = cells[40][1], cells[40][0]
    with pytest.raises(UnreadableFile, match=r":42: "):
        read_sweep(write(tmp_path, "R and X", cells))


def coarse_and_noisy(seed):
    """41 points over a resonance and a line behind it, with noise of 0.01 in each part."""
    dice = np.random.default_rng(seed)
    f_hz = np.linspace(13.2e6, 15.2e6, 41)
    z_ohm = 58 * (1 + 13j * (f_hz / 14.2e6 - 14.2e6 / f_hz))
    gamma = (z_ohm - 50) / (z_ohm + 50) * np.exp(-4j * np.pi * f_hz * 10 / 2e8) * 0.9
    gamma = gamma + 0.01 * (dice.normal(size=41) + 1j * dice.normal(size=41))
    return dice, f_hz, gamma


def outcome(folder, f_hz, gamma):
    cells = [[f"{f / 1e6:.4f}", f"{g.real:.4f}", f"{g.imag:.4f}"] for f, g in zip(f_hz, gamma, strict=True)]
    try:
        sweep = read_sweep(write(folder, "RI", cells))
    except UnreadableFile as error:
        return f"refused in line {error.line}"
    return "said" if any(one.code == "row-doubtful" for one in sweep.findings) else "silent"


def test_numbers_that_changed_places_on_a_rough_curve_are_seldom_passed_over(tmp_path):
    found = []
    for seed in range(100):
        dice, f_hz, gamma = coarse_and_noisy(seed)
        at = int(dice.integers(4, 37))
        swapped = gamma.copy()
        swapped[at] = complex(gamma[at].imag, gamma[at].real)
        if abs(swapped[at] - gamma[at]) > 0.2:
            found.append(outcome(tmp_path, f_hz, swapped))
            assert found[-1] in ("said", "silent", f"refused in line {at + 2}")
    assert len(found) > 50
    assert found.count("silent") < 0.25 * len(found)  # in noise of 0.01 another row may stand out more


def test_a_lone_point_on_a_rough_curve_is_never_refused(tmp_path):
    for seed in range(40):
        dice, f_hz, gamma = coarse_and_noisy(seed)
        assert outcome(tmp_path, f_hz, gamma) == "silent"
        at = int(dice.integers(2, 39))
        gamma[at] = gamma[at] * 0.6 + 0.35 * np.exp(2j * np.pi * dice.random())
        assert not outcome(tmp_path, f_hz, gamma).startswith("refused")


@pytest.mark.parametrize("kept", [4, 8, 15])
def test_a_last_number_that_lost_the_exponent_of_small_ones_is_refused(tmp_path, kept):
    # as writers print that change to an exponent below 0.1
    sizes = np.linspace(0.31, 0.0457, 40)
    lines = [
        f"{7e6 + 1e4 * k:.0f} 0.4{k:02d}1234 {x:.15f}"
        if x >= 0.1
        else f"{7e6 + 1e4 * k:.0f} 0.4{k:02d}1234 {x:.14E}"
        for k, x in enumerate(sizes)
    ]
    path = tmp_path / "sweep.s1p"
    path.write_text("\n".join(["# Hz S RI R 50", *lines]))
    assert read_sweep(path).f_hz.size == 40
    row, _, last = lines[-1].rpartition(" ")
    path.write_text("\n".join(["# Hz S RI R 50", *lines[:-1], f"{row} {last[:kept]}"]))
    with pytest.raises(UnreadableFile, match=r":41: 4\.5\d* has "):
        read_sweep(path)
    path.write_text("\n".join(["# Hz S RI R 50", *lines[:-1], f"{row} 0"]))
    with pytest.raises(UnreadableFile, match=r":41: 0 has "):
        read_sweep(path)


def test_an_exchange_with_an_swr_is_found_where_the_columns_agree_all_the_same(tmp_path):
    # at resonance R = 50 ohm / SWR and X = 0: with R and SWR exchanged the row contradicts nothing
    f_hz = np.linspace(13.9e6, 14.5e6, 61)
    z_ohm = 40 * (1 + 13j * (f_hz / 14.2e6 - 14.2e6 / f_hz))
    size = np.abs((z_ohm - 50) / (z_ohm + 50))
    cells = [
        [f"{f / 1e6:.4f}", f"{swr:.3f}", f"{z.real:.3f}", f"{z.imag:.3f}"]
        for f, swr, z in zip(f_hz, (1 + size) / (1 - size), z_ohm, strict=True)
    ]
    path = tmp_path / "sweep.csv"
    head = "Frequency (MHz),SWR,R (ohm),X (ohm)"
    path.write_text("\n".join([head, *map(",".join, cells)]) + "\n")
    assert not read_sweep(path).findings
    cells[30][1], cells[30][2] = cells[30][2], cells[30][1]
    path.write_text("\n".join([head, *map(",".join, cells)]) + "\n")
    with pytest.raises(UnreadableFile, match=r":32: 1\.250 and 40\.000 are off a curve"):
        read_sweep(path)


def test_an_exchange_with_a_column_that_is_not_used_is_found(tmp_path):
    lines = [
        f"{f / 1e6:.4f},{r:.2f},{x:.2f},{300 + k}.25"
        for k, (f, r, x) in enumerate(zip(F_HZ, Z_OHM.real, Z_OHM.imag, strict=True))
    ]
    cells = lines[40].split(",")
    cells[2], cells[3] = cells[3], cells[2]
    lines[40] = ",".join(cells)
    path = tmp_path / "sweep.csv"
    path.write_text("\n".join(["Frequency (MHz),R (ohm),X (ohm),Battery (mV)", *lines]) + "\n")
    with pytest.raises(UnreadableFile, match=r":42: .* with their places changed"):
        read_sweep(path)


def test_an_exchange_is_found_beside_sharper_bends_elsewhere(tmp_path):
    f_hz = np.linspace(13.2e6, 15.2e6, 201)
    z_ohm = 58 * (1 + 13j * (f_hz / 14.2e6 - 14.2e6 / f_hz))
    for centre_hz in np.arange(14.3e6, 15.2e6, 0.1e6):  # traps: sharp in these steps
        z_ohm = z_ohm + 300 / (1 + 4000j * (f_hz / centre_hz - centre_hz / f_hz))
    gamma = (z_ohm - 50) / (z_ohm + 50)
    assert outcome(tmp_path, f_hz, gamma) == "silent"
    gamma[80] = complex(gamma[80].imag, gamma[80].real)
    assert outcome(tmp_path, f_hz, gamma) in ("said", "refused in line 82")


def test_a_slip_in_touchstone_with_commas_is_refused(tmp_path):
    cells = rows("RI")
    cells[40][1] = SLIPS["sign"](cells[40][1])
    path = write(tmp_path, "RI", cells)
    path.write_text(path.read_text().replace(".", ","))
    with pytest.raises(UnreadableFile, match=r":42: .* one slip away"):
        read_sweep(path)


def test_an_swr_of_total_reflection_agrees_with_more_than_that(tmp_path):
    r = 0.4 * np.sin(np.arange(60))  # below 0 by the analyzer's own error: |S11| up to 1.016
    lines = [
        f"{14e6 + 1e4 * k:.0f},{value:.2f},{-20.13 - k / 99:.2f},{900 + k if value < 0 else 58 / max(value, 0.06):.0f}"
        for k, value in enumerate(r)
    ]
    path = tmp_path / "open.csv"
    path.write_text("\n".join(["Frequency (Hz),R (ohm),X (ohm),SWR", *lines]) + "\n")
    assert read_sweep(path).f_hz.size == 60


def coarse_prints(seed):
    """A dense sweep of a resonance behind a line, as R and X and as SWR in coarse digits."""
    dice = np.random.default_rng([seed, 1207])
    f_hz = np.round(np.linspace(13.2e6, 15.2e6, int(dice.choice([101, 201, 401, 801]))))
    z_ohm = dice.uniform(10, 80) * (1 + 1j * dice.uniform(3, 30) * (f_hz / 14.2e6 - 14.2e6 / f_hz))
    turn = -4j * np.pi * f_hz * dice.uniform(0, 12) / 2e8
    gamma = (z_ohm - 50) / (z_ohm + 50) * np.exp(turn) * 0.97
    seen, size = 50 * (1 + gamma) / (1 - gamma), np.abs(gamma)
    for digits in (0, 1):
        form = f"%.0f,%.{digits}f,%.{digits}f"
        yield "R (ohm),X (ohm)", [form % row for row in zip(f_hz, seen.real, seen.imag, strict=True)]
    for digits in (1, 2):
        form = f"%.0f,%.{digits}f"
        yield "SWR", [form % row for row in zip(f_hz, (1 + size) / (1 - size), strict=True)]


@pytest.mark.parametrize("seeds", [range(12), pytest.param(range(12, 230), marks=pytest.mark.slow)], ids=len)
def test_a_sound_sweep_in_coarse_digits_is_read_and_nothing_said(tmp_path, seeds):
    path = tmp_path / "sweep.csv"
    for seed in seeds:
        for head, lines in coarse_prints(seed):
            path.write_text("\n".join([f"Frequency (Hz),{head}", *lines]) + "\n")
            assert "row-doubtful" not in {one.code for one in read_sweep(path).findings}, (seed, head)


@pytest.mark.parametrize("above", [0.02, 0.2, 0.4])
def test_a_step_of_the_print_where_r_and_x_meet_is_no_exchange(tmp_path, above):
    # R falls from 12.5 + above to 12.5 - above, X rises as far: 13 and 12 for 200 rows, then 12 and 13
    slope = np.linspace(-above, above, 400)
    path = tmp_path / "sweep.csv"
    for ohm in (2.5, 12.5, 30.5, 49.5):
        lines = [
            f"{14e6 + 1e3 * k:.0f},{ohm - part:.0f},{ohm + part:.0f}" for k, part in enumerate(slope, start=1)
        ]
        path.write_text("\n".join(["Frequency (Hz),R (ohm),X (ohm)", *lines]) + "\n")
        assert "row-doubtful" not in {one.code for one in read_sweep(path).findings}


@pytest.mark.parametrize("run", [1, 12])
def test_numbers_that_changed_places_are_found_in_whole_ohms(tmp_path, run):
    path, found = tmp_path / "sweep.csv", []
    for seed in range(40):
        head, lines = next(coarse_prints(seed))
        at = int(np.random.default_rng([seed, run]).integers(10, len(lines) - 25))
        moved = [abs(np.subtract(*map(float, line.split(",")[1:]))) for line in lines[at : at + run]]
        if min(moved) < 10 or max(moved) > 100:
            continue
        for k in range(at, at + run):
            f, r, x = lines[k].split(",")
            lines[k] = f"{f},{x},{r}"
        path.write_text("\n".join([f"Frequency (Hz),{head}", *lines]) + "\n")
        try:
            found.append(any(one.code == "row-doubtful" for one in read_sweep(path).findings))
        except UnreadableFile as error:
            assert error.line in range(at + 2, at + run + 2)
            found.append(True)
    assert len(found) >= 15
    assert np.mean(found) >= 0.9
