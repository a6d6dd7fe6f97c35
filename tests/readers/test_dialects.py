"""Every dialect of one antenna gives one sweep; damage is refused with its line, or does no harm."""

from __future__ import annotations

import gzip

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from sweepkit.errors import SweepkitError, UnreadableFile
from sweepkit.readers import read_sweep, touchstone, touchstone_keywords
from sweepkit.readers.opening import decode
from sweepkit.readers.tables import table
from tests.readers import dialects as d

ROUNDING = 3e-6  # of the reflection: six decimals of ohm or megahertz


def written(tmp_path, content, name="antenna.txt"):
    path = tmp_path / name
    path.write_bytes(d.as_bytes(content))
    return path


@pytest.mark.parametrize("name", sorted(d.SIGNED))
def test_one_antenna_in_every_dialect_is_one_sweep(tmp_path, name):
    sweep = read_sweep(written(tmp_path, d.SIGNED[name]))
    assert sweep.phase == "signed"
    assert sweep.reference_ohm == 50.0
    np.testing.assert_allclose(sweep.f_hz, d.F_HZ, atol=0.6)
    np.testing.assert_allclose(sweep.gamma, d.GAMMA, atol=ROUNDING)


@pytest.mark.parametrize("name", sorted(d.MAGNITUDE))
def test_a_file_without_phase_is_a_sweep_without_phase(tmp_path, name):
    sweep = read_sweep(written(tmp_path, d.MAGNITUDE[name]))
    assert sweep.phase == "none"
    assert sweep.gamma is None
    np.testing.assert_allclose(sweep.gamma_abs, np.abs(d.GAMMA), atol=ROUNDING)


@pytest.mark.parametrize("name", sorted(d.UNSIGNED))
def test_a_reactance_without_sign_is_never_given_one(tmp_path, name):
    sweep = read_sweep(written(tmp_path, d.UNSIGNED[name]))
    assert sweep.phase == "unsigned"
    assert sweep.gamma is None
    np.testing.assert_allclose(sweep.gamma_abs, np.abs(d.GAMMA), atol=ROUNDING)


@pytest.mark.parametrize("name", sorted(d.EVERY))
def test_exactly_one_reader_says_yes(tmp_path, name):
    path = written(tmp_path, d.EVERY[name])
    head = decode(path.read_bytes(), path).head
    assert sum(reader.recognise(head) for reader in (touchstone, touchstone_keywords, table)) == 1


@pytest.mark.parametrize("name", sorted(d.NO_SWEEP))
def test_a_table_of_something_else_is_refused_by_what_is_missing(tmp_path, name):
    with pytest.raises(UnreadableFile, match=r"no frequency column|no reflection column"):
        read_sweep(written(tmp_path, d.NO_SWEEP[name], "swr.csv"))


@pytest.mark.parametrize("name", sorted(d.EVERY))
def test_cut_at_every_line_it_is_shorter_or_refused(tmp_path, name):
    content = d.EVERY[name]
    if name == "UTF-16":
        content = content.decode("utf-16").encode("utf-8")
    lines = content.splitlines(keepends=True)
    for count in range(len(lines)):
        path = written(tmp_path, b"".join(lines[:count]))
        try:
            sweep = read_sweep(path)
        except SweepkitError as error:
            assert str(error).startswith(str(path))
            continue
        close = np.abs(sweep.f_hz[:, None] - d.F_HZ[None, :]).argmin(axis=1)
        np.testing.assert_allclose(sweep.gamma_abs, np.abs(d.GAMMA)[close], atol=ROUNDING)


@pytest.mark.parametrize("name", sorted(d.EVERY))
@pytest.mark.parametrize("bad", ["x", "?", "\x00"])
def test_one_bad_character_in_the_data_is_refused_with_its_line_or_does_no_harm(tmp_path, name, bad):
    if name == "UTF-16":
        pytest.skip("two bytes a character: its text is that of the dialect with mark")
    content = d.EVERY[name].decode("latin-1")
    dice = np.random.default_rng(len(name))
    first_row = content.index("13", content.index("\n") if "falling" not in name else 0)
    for at in dice.integers(first_row, len(content), 40).tolist():
        path = written(tmp_path, (content[:at] + bad + content[at + 1 :]).encode("latin-1"))
        try:
            sweep = read_sweep(path)
        except UnreadableFile as error:
            assert str(error).startswith(f"{path}:"), error
            continue
        close = np.abs(sweep.f_hz[:, None] - d.F_HZ[None, :]).argmin(axis=1)
        np.testing.assert_allclose(sweep.gamma_abs, np.abs(d.GAMMA)[close], atol=ROUNDING)


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    name=st.sampled_from(sorted(d.EVERY)),
    edits=st.lists(
        st.tuples(st.floats(0, 1), st.binary(max_size=3), st.integers(0, 4)), min_size=1, max_size=5
    ),
)
def test_whatever_is_done_to_a_file_it_is_read_or_refused(tmp_path, name, edits):
    content = bytearray(d.EVERY[name])
    for place, inserted, removed in edits:
        at = int(place * len(content))
        content[at : at + removed] = inserted
    path = written(tmp_path, bytes(content))
    try:
        sweep = read_sweep(path)
    except SweepkitError as error:
        assert str(error).startswith(str(path))
    else:
        assert np.isfinite(sweep.gamma_abs).all()
        assert (np.diff(sweep.f_hz) > 0).all()


@pytest.mark.parametrize(
    ("hints", "content"),
    [
        ({"columns": "f,r,x", "unit": "MHz"}, d.table((d.MHZ, d.Z_OHM.real, d.Z_OHM.imag))),
        ({"columns": "f,re,im", "unit": "Hz"}, d.table((d.F_HZ, d.GAMMA.real, d.GAMMA.imag), form="{:.9g}")),
        ({"columns": "f,mag,deg", "unit": "MHz"}, d.table((d.MHZ, np.abs(d.GAMMA), d.DEG), form="{:.8f}")),
        ({"columns": "f,-,r,x", "unit": "MHz"}, d.table((d.MHZ, d.SWR, d.Z_OHM.real, d.Z_OHM.imag))),
    ],
)
def test_hints_settle_what_a_file_without_names_leaves_open(tmp_path, hints, content):
    path = written(tmp_path, content)
    with pytest.raises(UnreadableFile, match="pass --columns"):
        read_sweep(path)
    np.testing.assert_allclose(read_sweep(path, **hints).gamma, d.GAMMA, atol=ROUNDING)


def test_a_column_that_contradicts_the_others_is_named_with_its_line(tmp_path):
    swr = d.SWR.copy()
    swr[7] += 0.5
    content = d.table((d.MHZ, d.Z_OHM.real, d.Z_OHM.imag, swr), head="Frequency (MHz),R (ohm),X (ohm),SWR")
    with pytest.raises(UnreadableFile, match=r"antenna.txt:9: column SWR says"):
        read_sweep(written(tmp_path, content))


def test_a_reference_that_clashes_with_the_file_is_refused(tmp_path):
    path = written(tmp_path, d.SIGNED["touchstone Hz RI"])
    assert read_sweep(path, reference_ohm=50.0).reference_ohm == 50.0
    with pytest.raises(UnreadableFile, match="states 50 ohm as reference, --reference-ohm says 75"):
        read_sweep(path, reference_ohm=75.0)


def test_a_recovered_sign_is_right_and_marked_or_refused(tmp_path):
    # Also a narrow sweep inside the band with R above 50 ohm, where the way round the origin would mislead.
    for name, z_ohm in {
        "wide": d.Z_OHM,
        "narrow, R above 50": 95.0 * (1 + 1j * 10.0 * (d.F_HZ / 14.2e6 - 14.2e6 / d.F_HZ)),
        "R below 50": 31.0 * (1 + 1j * 18.0 * (d.F_HZ / 14.15e6 - 14.15e6 / d.F_HZ)),
    }.items():
        content = d.table((d.MHZ, z_ohm.real, np.abs(z_ohm.imag)), head="Frequency (MHz),R (ohm),|X| (ohm)")
        path = written(tmp_path, content)
        try:
            sweep = read_sweep(path, recover_sign=True)
        except UnreadableFile as error:
            assert "cannot be recovered" in str(error)
            continue
        assert "sign-recovered" in {finding.code for finding in sweep.findings}
        found = 50 * (1 + sweep.gamma) / (1 - sweep.gamma)
        clear = np.abs(z_ohm.imag) > 2
        assert (np.sign(found.imag) == np.sign(z_ohm.imag))[clear].mean() > 0.98, name


def test_packed_files_are_refused_clearly(tmp_path):
    with pytest.raises(UnreadableFile, match="gzip"):
        read_sweep(written(tmp_path, gzip.compress(d.EVERY["R and X"]), "antenna.s1p"))


@pytest.mark.parametrize("name", ["touchstone Hz RI", "R and X"])
def test_a_hundred_thousand_points_are_read(tmp_path, name):
    n = 100_000
    f_hz = np.linspace(1e6, 60e6, n)
    if name == "R and X":
        content = d.table(
            (f_hz / 1e6, np.full(n, 40.0), np.linspace(-9, 9, n)), head="Frequency (MHz),R (ohm),X (ohm)"
        )
    else:
        content = d.touchstone("# Hz S RI R 50", (f_hz, np.full(n, 0.3), np.linspace(-0.2, 0.2, n)))
    assert read_sweep(written(tmp_path, content)).f_hz.size == n


@pytest.mark.identity
def test_the_short_way_agrees_with_scikit_rf_bit_for_bit(tmp_path):
    import skrf

    for name in ("touchstone Hz RI", "touchstone MHz MA", "touchstone kHz DB"):
        path = written(tmp_path, d.EVERY[name], "antenna.s1p")
        network = skrf.Network()
        network.read_touchstone(str(path))
        sweep = read_sweep(path)
        np.testing.assert_array_equal(sweep.gamma, network.s[:, 0, 0])
        np.testing.assert_array_equal(sweep.f_hz, network.f)
