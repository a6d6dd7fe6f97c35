"""Boxes on the bench, against circuits: cascades of chain matrices, with powers from voltage and current."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

from sweepkit.bench.answer import bench_json, kit_block
from sweepkit.bench.ends import Into, parse_into
from sweepkit.bench.measure import measure_box
from sweepkit.bench.two_port import lost_db, two_port
from sweepkit.errors import BadInput
from sweepkit.feedline.chain import LineChain, draw_chain
from sweepkit.feedline.plane import remove_chain
from sweepkit.kit import Analyzer, read_kit
from sweepkit.readers import read_sweep
from sweepkit.report.bench_page import bench_page

F_HZ = np.linspace(3e6, 30e6, 109)
W = 2 * np.pi * F_HZ
GOOD = Analyzer(directivity_db=60, tracking=0.0002, source_match_db=60, noise=0.0001)


def series(z):
    z = np.broadcast_to(z, F_HZ.shape).astype(complex)
    return np.stack([np.stack([np.ones_like(z), z], -1), np.stack([0 * z, np.ones_like(z)], -1)], -2)


def shunt(y):
    y = np.broadcast_to(y, F_HZ.shape).astype(complex)
    return np.stack([np.stack([np.ones_like(y), 0 * y], -1), np.stack([y, np.ones_like(y)], -1)], -2)


def transformer(rng, ratio=49.0):
    """Compensation, leakage, a lossy core across, the turns, the winding's own capacitance."""
    turns = np.sqrt(ratio)
    core = 1 / rng.uniform(400, 1500) + 1 / (
        1j * W * rng.uniform(4e-6, 12e-6) * (1 - 1j * rng.uniform(0.05, 0.4))
    )
    ideal = np.broadcast_to(np.array([[1 / turns, 0], [0, turns]], dtype=complex), (*F_HZ.shape, 2, 2))
    return (
        shunt(1j * W * rng.uniform(50e-12, 110e-12))
        @ series(1j * W * rng.uniform(0.02e-6, 0.08e-6))
        @ shunt(core)
        @ ideal
        @ shunt(1j * W * rng.uniform(2e-12, 6e-12))
    )


def turned(box):
    """The same box seen from its other side (reciprocal: AD - BC = 1)."""
    a, b, c, d = box[..., 0, 0], box[..., 0, 1], box[..., 1, 0], box[..., 1, 1]
    return np.stack([np.stack([d, b], -1), np.stack([c, a], -1)], -2)


def seen(box, far_ohm):
    a, b, c, d = box[..., 0, 0], box[..., 0, 1], box[..., 1, 0], box[..., 1, 1]
    z = a / c if far_ohm is None else (a * far_ohm + b) / (c * far_ohm + d)
    return (z - 50) / (z + 50)


def true_loss_db(box, far_ohm):
    """One ampere in the load: power in the load over power into the box."""
    a, b, c, d = box[..., 0, 0], box[..., 0, 1], box[..., 1, 0], box[..., 1, 1]
    volts, amps = a * far_ohm + b, c * far_ohm + d
    return -10 * np.log10(far_ohm / (volts * amps.conj()).real)


def sweep_of(gamma, path, rng=None):
    """The file of an analyzer; with ``rng`` one whose errors nobody told (the same for all ends: pass a copy)."""
    if rng is not None:
        waves = [np.exp(2j * np.pi * (rng.random() + F_HZ / 30e6)) for _ in range(3)]
        size = 10 ** (-rng.uniform((35, 30, 30), (46, 40, 40)) / 20)
        gamma = size[0] * waves[0] + gamma * (1 + size[1] * waves[1]) / (1 - size[2] * waves[2] * gamma)
        noise = np.random.default_rng([*path.name.encode()])
        gamma = gamma + 0.0007 * (noise.normal(size=gamma.size) + 1j * noise.normal(size=gamma.size))
    rows = [f"{f:.0f} {g.real:.9f} {g.imag:.9f}" for f, g in zip(F_HZ, gamma, strict=True)]
    path.write_text("# Hz S RI R 50\n" + "\n".join(rows) + "\n")
    return read_sweep(path)


def swept(box, load_ohm, tmp_path, *, seed=None, ends=(None, 0.0), true_ohm=None):
    """Into the load first, then into the other ends."""
    told = [Into(load_ohm), *map(Into, ends)]
    answers = []
    for k, into in enumerate(told):
        rng = None if seed is None else np.random.default_rng(seed)
        far = true_ohm if k == 0 and true_ohm is not None else into.r_ohm
        answers.append((sweep_of(seen(box, far), tmp_path / f"{k}.s1p", rng), into))
    return answers


# Pozar 2012, section 4.3: the two-port that was put in comes out, whatever it is; powers are those of the circuit.
@pytest.mark.identity
def test_open_short_and_load_tell_a_two_port_exactly():
    box = transformer(np.random.default_rng(1))
    found = two_port(seen(box, None), seen(box, 0.0), seen(box, 2450.0))
    assert lost_db(found) == pytest.approx(true_loss_db(box, 2450.0), abs=1e-9)


@pytest.mark.identity
@pytest.mark.parametrize("what", ["transformer", "pair", "adapter"])
def test_the_bench_gives_the_circuits_loss(what, tmp_path):
    one = transformer(np.random.default_rng(2))
    box = {
        "transformer": one,
        "pair": one @ turned(one),
        "adapter": series(0.8 + 1j * W * 9e-9) @ shunt(1j * W * 4e-12),
    }[what]
    load = 2450.0 if what == "transformer" else 50.0
    bench = measure_box(
        swept(box, load, tmp_path), what=what, ratio=49.0 if what == "transformer" else 1.0, draws=0
    )
    at = [int(abs(F_HZ - f).argmin()) for f in bench.f_hz]
    true_db = true_loss_db(box, load)[at] / (2 if what == "pair" else 1)
    assert [loss.value for loss in bench.loss_db] == pytest.approx(
        list(true_db), abs=1e-5
    )  # 9 printed digits
    assert bench.exact
    assert bench.findings == ()
    z = 50 * (1 + seen(box, load)) / (1 - seen(box, load))
    assert [r.value for r in bench.r_ohm] == pytest.approx(list(z.real[at]), rel=1e-5)


@pytest.mark.identity
def test_a_load_alone_tells_the_loss_where_nothing_errs(tmp_path):
    for k in range(3):
        box = transformer(np.random.default_rng([5, k]))
        bench = measure_box(swept(box, 2450.0, tmp_path, ends=()), what="transformer", ratio=49.0, draws=0)
        at = [int(abs(F_HZ - f).argmin()) for f in bench.f_hz]
        assert [loss.value for loss in bench.loss_db] == pytest.approx(
            list(true_loss_db(box, 2450.0)[at]), abs=0.02
        )
        assert not bench.exact


# Resistors off by 1 %, an analyzer whose errors nobody told. Half of a pair's loss is that of either box
# in the pair. From a load alone analyzers' errors look like compensation and leakage.
@pytest.mark.parametrize(
    ("what", "boxes"),
    [("transformer", 24), ("pair", 24), pytest.param("load alone", 24, marks=pytest.mark.slow)],
)
def test_the_intervals_hold_in_circuits(what, boxes, tmp_path):
    inside = []
    for k in range(boxes):
        rng = np.random.default_rng([5, k])
        one = transformer(rng)
        pair = what == "pair"
        box, load = (one @ turned(one), 50.0) if pair else (one, 2450.0)
        ends = () if what == "load alone" else (None, 0.0)
        files = swept(box, load, tmp_path, seed=[6, k], ends=ends, true_ohm=load * (1 + 0.01 * rng.normal()))
        bench = measure_box(
            files, what="pair" if pair else "transformer", ratio=1.0 if pair else 49.0, draws=200, seed=k
        )
        assert bench.exact == (what != "load alone")
        for f_hz, loss in zip(bench.f_hz, bench.loss_db, strict=True):
            true_db = true_loss_db(box, load)[int(abs(F_HZ - f_hz).argmin())] / (2 if pair else 1)
            inside.append(loss.low <= true_db <= loss.high)
    assert np.mean(inside) >= (0.90 if what == "load alone" else 0.93)


def test_a_choke_shows_what_it_is(tmp_path):
    choke = 1 / (1 / 2600 + 1 / (1j * W * 40e-6) + 1j * W * 1.5e-12)
    for behind in (0.0, 50.0):
        z = choke + behind
        sweep = sweep_of((z - 50) / (z + 50), tmp_path / "c.s1p")
        bench = measure_box([(sweep, Into(behind))], what="choke", analyzer=GOOD, draws=100)
        at = [int(abs(F_HZ - f).argmin()) for f in bench.f_hz]
        assert [r.value for r in bench.r_ohm] == pytest.approx(list(choke.real[at]), rel=1e-3)
        assert [x.value for x in bench.x_ohm] == pytest.approx(list(choke.imag[at]), rel=1e-3, abs=1.0)
        assert all(r.low < r.value < r.high for r in bench.r_ohm)
        (tmp_path / "kit.toml").write_text(
            kit_block(bench, name="c") + '[antennas.a]\nkind = "end-fed"\nchoke = "c"\nchoke_at = "0 m"\n'
        )
        kit = read_kit(tmp_path / "kit.toml")
        assert kit.antennas["a"].choke == "c"
        back = [kit.boxes["c"].choke_at_ohm(f) for f in bench.f_hz]
        assert back == pytest.approx(
            [r.value + 1j * x.value for r, x in zip(bench.r_ohm, bench.x_ohm, strict=True)], abs=0.8
        )
    with pytest.raises(BadInput, match="less resistance than the 2450 ohm behind the choke"):
        measure_box(
            [(sweep_of(np.full(F_HZ.shape, -0.6 + 0j), tmp_path / "d.s1p"), Into(2450.0))],
            what="choke",
            draws=0,
        )


def test_the_block_gives_the_same_box_back(tmp_path):
    box = transformer(np.random.default_rng(3))
    bench = measure_box(swept(box, 2450.0, tmp_path), what="transformer", ratio=49.0, draws=50)
    text = kit_block(bench, name="my box")
    (tmp_path / "kit.toml").write_text(text + '[antennas.a]\nkind = "end-fed"\ntransformer = "my box"\n')
    kit = read_kit(tmp_path / "kit.toml")
    back = kit.boxes["my box"].loss_at_db(np.array(bench.f_hz))
    assert list(back) == pytest.approx([loss.value for loss in bench.loss_db], abs=0.006)
    assert (kit.antennas["a"].transformer, kit.antennas["a"].box) == (49.0, "my box")
    document = bench_json(bench, name="my box")
    assert document["schema"] == "sweepkit/bench/1"
    assert document["kit"] == text
    assert len(document["loss_db"]) == len(document["impedance"]) == 9


def test_another_load_or_a_missing_box_is_refused(tmp_path):
    one = transformer(np.random.default_rng(4))
    wrong = swept(one, 2450.0, tmp_path, ends=(), true_ohm=50.0)
    with pytest.raises(
        BadInput, match=r"shows \d+ [+-] j\d+ ohm at best, where 50 was expected; another load"
    ):
        measure_box(wrong, what="transformer", ratio=49.0, draws=0)
    alone = swept(one, 50.0, tmp_path)  # one of the pair is missing
    with pytest.raises(BadInput, match="a box is missing"):
        measure_box(alone, what="pair", draws=0)


def test_boxes_that_differ_are_named(tmp_path):
    one, other = transformer(np.random.default_rng(7)), transformer(np.random.default_rng(8), ratio=25.0)
    bench = measure_box(swept(one @ turned(other), 50.0, tmp_path), what="pair", draws=100)
    assert [finding.code for finding in bench.findings] == ["load-doubted", "boxes-differ"]  # 25 ohm at best


@pytest.mark.parametrize(
    ("ends", "what", "words"),
    [
        (["open", "short"], "transformer", "one sweep into a resistor is needed; add FILE --into '2450 ohm'"),
        (["50 ohm"], "pair", "open and short at the far side are needed as well"),
        (["open", "open"], "pair", "two sweeps have the same --into"),
        (["open"], "choke", "a choke is swept once, in series with a short or a resistor"),
    ],
)
def test_ends_that_do_not_belong_to_a_box_are_refused(ends, what, words, tmp_path):
    one = transformer(np.random.default_rng(2))
    box = one @ turned(one)
    files = [
        (sweep_of(seen(box, parse_into(end).r_ohm), tmp_path / f"{k}.s1p"), parse_into(end))
        for k, end in enumerate(ends)
    ]
    with pytest.raises(BadInput, match=re.escape(words)):
        measure_box(files, what=what, ratio=49.0 if what == "transformer" else 1.0, draws=0)


def test_open_and_short_alike_and_other_spans_are_refused(tmp_path):
    one = transformer(np.random.default_rng(2))
    twice = (sweep_of(seen(one, None), tmp_path / "s.s1p"), Into(0.0))
    same = [*swept(one, 2450.0, tmp_path, ends=(None,)), twice]
    with pytest.raises(BadInput, match="open and short look alike"):
        measure_box(same, what="transformer", ratio=49.0, draws=0)
    short = tmp_path / "x.s1p"
    short.write_text(
        "# Hz S RI R 50\n" + "\n".join(f"{f} 0.1 0" for f in range(3_000_000, 9_000_000, 100_000)) + "\n"
    )
    with pytest.raises(BadInput, match="its span or its points are not those of the first"):
        measure_box([*same[:2], (read_sweep(short), Into(0.0))], what="transformer", ratio=49.0, draws=0)


@pytest.mark.parametrize(
    ("text", "ohm"), [("open", None), ("Short", 0.0), ("2450 ohm", 2450.0), ("2.4 kohm", 2400.0)]
)
def test_ends_are_written_as_people_write_them(text, ohm):
    assert parse_into(text).r_ohm == ohm


@pytest.mark.parametrize("text", ["2450", "much", "0 ohm", "-5 ohm"])
def test_a_bare_number_is_no_end(text):
    with pytest.raises(BadInput, match="--into"):
        parse_into(text)


def test_the_analyzer_of_the_kit_narrows_the_interval(tmp_path):
    files = swept(transformer(np.random.default_rng(9)), 2450.0, tmp_path)
    wide = measure_box(files, what="transformer", ratio=49.0, draws=200)
    good = Analyzer(directivity_db=50, tracking=0.002, source_match_db=50, noise=0.0002)
    narrow = measure_box(files, what="transformer", ratio=49.0, analyzer=good, draws=200)
    assert narrow.loss_db[4].high - narrow.loss_db[4].low < wide.loss_db[4].high - wide.loss_db[4].low


def piece_of_line(z0_ohm, delay_s, loss_db):
    """A line whose loss at 30 MHz is told and goes with the root of frequency."""
    turn = loss_db / 8.686 * np.sqrt(F_HZ / 30e6) + 1j * W * delay_s
    rows = [[np.cosh(turn), z0_ohm * np.sinh(turn)], [np.sinh(turn) / z0_ohm, np.cosh(turn)]]
    return np.moveaxis(np.array(rows), (0, 1), (-2, -1))


@pytest.mark.identity
@pytest.mark.parametrize(("z0_ohm", "delay_s", "loss_db"), [(58.0, 3e-9, 0.05), (47.0, 1.5e-8, 0.3)])
def test_an_adapter_is_the_line_it_is(z0_ohm, delay_s, loss_db, tmp_path):
    box = piece_of_line(z0_ohm, delay_s, loss_db)
    bench = measure_box(swept(box, 50.0, tmp_path), what="adapter", draws=0)
    figures = bench.line.figures()
    assert figures["z0_ohm"].value == pytest.approx(z0_ohm, rel=2e-3)  # pulled a little to 50 ohm
    assert figures["delay_s"].value == pytest.approx(delay_s, rel=2e-3)
    assert figures["loss_db"].value == pytest.approx(loss_db * np.sqrt(bench.line.middle_hz / 30e6), abs=2e-3)
    assert bench.findings == ()


# The block against the circuit: an antenna behind the piece, taken out by the line of the block.
def test_the_block_of_an_adapter_takes_it_out(tmp_path):
    box = piece_of_line(58.0, 4e-9, 0.2)
    bench = measure_box(swept(box, 50.0, tmp_path, seed=[3, 1]), what="adapter", draws=100)
    (tmp_path / "kit.toml").write_text(kit_block(bench, name="elbow"))
    kit = read_kit(tmp_path / "kit.toml")
    z = 60 + 12j * (F_HZ / 14e6 - 14e6 / F_HZ) * 50
    seen_ohm = (box[..., 0, 0] * z + box[..., 0, 1]) / (box[..., 1, 0] * z + box[..., 1, 1])
    chain = draw_chain(LineChain((kit.lines["elbow"],)), np.random.default_rng(0), 0)
    gamma = remove_chain(F_HZ, ((seen_ohm - 50) / (seen_ohm + 50))[np.newaxis], chain)[0]
    off = abs(gamma - (z - 50) / (z + 50))
    assert off.max() < 0.05  # an analyzer's errors; left in, the piece turns by 0.3 and more
    assert abs((seen_ohm - z) / (seen_ohm + z)).max() > 0.3


def test_impedance_delay_and_loss_of_adapters_lie_in_their_intervals(tmp_path):
    inside = []
    for k in range(30):
        rng = np.random.default_rng([8, k])
        true = (rng.uniform(40, 62), np.exp(rng.uniform(np.log(1e-10), np.log(2e-8))), rng.uniform(0.01, 0.4))
        files = swept(
            piece_of_line(*true), 50.0, tmp_path, seed=[9, k], true_ohm=50 * (1 + 0.01 * rng.normal())
        )
        bench = measure_box(files, what="adapter", draws=100, seed=k)
        share = np.sqrt(bench.line.middle_hz / 30e6)
        for figure, value in zip(
            bench.line.figures().values(), (true[0], true[1], true[2] * share), strict=True
        ):
            inside.append(figure.low <= value <= figure.high)
    assert np.mean(inside) >= 0.9


def test_what_is_no_line_has_no_block_of_one(tmp_path):
    bench = measure_box(swept(series(40.0) @ shunt(0.01), 50.0, tmp_path), what="adapter", draws=20)
    assert [finding.code for finding in bench.findings] == ["not-a-line"]
    assert kit_block(bench, name="a") == ""


def test_a_load_that_this_box_is_not_made_for_is_refused_and_one_that_does_not_show_is_named(tmp_path):
    one = transformer(np.random.default_rng(2))
    pair = swept(one @ turned(one), 50.0, tmp_path)
    with pytest.raises(BadInput, match="is made for 2450 ohm, and was told to be swept into 50 ohm"):
        measure_box(pair, what="transformer", ratio=49.0, draws=0)
    other = measure_box(
        swept(one, 2450.0, tmp_path, true_ohm=1000.0), what="transformer", ratio=49.0, draws=0
    )
    assert [(finding.code, finding.level) for finding in other.findings] == [("load-doubted", "warning")]


def test_what_gives_more_than_it_takes_has_no_loss_and_no_block(tmp_path):
    one = transformer(np.random.default_rng(2))
    files = swept(one, 2450.0, tmp_path, ends=(), true_ohm=4400.0)
    bench = measure_box(files, what="transformer", ratio=49.0, draws=50)
    assert "loss-contradicts" in [finding.code for finding in bench.findings]
    assert kit_block(bench, name="a") == ""
    page = bench_page(bench, [sweep for sweep, _ in files], name="a")
    assert page.verdicts[0].word == "CANNOT SAY"


# A choke of 2 kilohm reflects nearly all: what the analyzer cannot tell stays out of the block, and is said.
def test_a_choke_beyond_the_analyzer_is_said_and_not_written_down(tmp_path):
    choke = 1 / (1 / 6000 + 1 / (1j * W * 60e-6) + 1j * W * 1.5e-12)
    sweep = sweep_of((choke - 50) / (choke + 50), tmp_path / "c.s1p", np.random.default_rng(4))
    bench = measure_box([(sweep, Into(0.0))], what="choke", draws=200)
    finding = bench.findings[0]
    assert (finding.code, finding.level) == ("choke-too-high", "note")
    true_ohm = {f: abs(choke[int(abs(F_HZ - f).argmin())]) for f in bench.f_hz}
    least = float(re.search(r"it has (\d+) ohm or more", finding.text).group(1))
    assert least < max(true_ohm.values())
    rows = re.findall(r"\[([\d.]+), (\d+), (-?\d+)\]", kit_block(bench, name="c"))
    assert len(rows) < len(bench.f_hz)
    verdict = bench_page(bench, [sweep], name="c").verdicts[0]
    if rows:
        assert any(f"{float(mhz):.3f} MHz" in verdict.why[0] for mhz, _, _ in rows)
    told_mhz = [float(mhz) for mhz, _, _ in rows]
    k = next(k for k, f in enumerate(bench.f_hz) if round(f / 1e6, 3) not in told_mhz)
    untold = replace(bench, r_ohm=bench.r_ohm[k : k + 1], x_ohm=bench.x_ohm[k : k + 1], f_hz=(bench.f_hz[k],))
    assert kit_block(untold, name="c") == ""
    assert bench_page(untold, [sweep], name="c").verdicts[0].word == f"{least:.0f} ohm OR MORE"
    known = measure_box(
        [(sweep_of((choke - 50) / (choke + 50), tmp_path / "d.s1p"), Into(0.0))], what="choke", analyzer=GOOD
    )
    assert known.findings == ()
