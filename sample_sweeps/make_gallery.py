"""The pictures of docs/gallery and of README, from the sample sweeps: ``python -m sample_sweeps.make_gallery``."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
from matplotlib.figure import Figure

from sweepkit.feedline.measure import measure_line
from sweepkit.feedline.told import Told
from sweepkit.figures import Figure as Value
from sweepkit.plots.along_line import plot_line
from sweepkit.plots.one_sweep import plot_impedance, plot_return_loss, plot_swr
from sweepkit.plots.overlay import plot_overlay
from sweepkit.plots.radials import RadialStep, plot_radials
from sweepkit.plots.repeats import plot_repeats
from sweepkit.plots.saving import save_figure
from sweepkit.plots.setup import plot_setup
from sweepkit.plots.smith import plot_smith
from sweepkit.plots.spread import plot_spread
from sweepkit.plots.trimming import TrimStep, plot_trim
from sweepkit.readers import read_sweep
from sweepkit.reviews import Review, review, review_repeats, review_setup
from sweepkit.sweep import Sweep

HERE = Path(__file__).resolve().parent
GALLERY = HERE.parent / "docs" / "gallery"
README_PICTURE = HERE.parent / "docs" / "pictures" / "ridge_dipole_40m.png"


def gallery() -> dict[str, Figure]:
    """Every picture by the name of its file."""
    dipole, whip = _reviewed("ridge_dipole_40m.s1p"), _reviewed("spit_whip_40m.s1p")
    return {
        "swr.png": plot_swr(dipole),
        "swr_whip.png": plot_swr(whip),
        "impedance.png": plot_impedance(dipole),
        "smith.png": plot_smith(dipole),
        "return_loss.png": plot_return_loss(whip),
        "overlay.png": plot_overlay([dipole, _reviewed("ridge_dipole_40m_long.s1p"), whip]),
        "setup.png": plot_setup(_setup()),
        "repeats.png": plot_repeats(_repeats()),
        "along_line.png": _line(),
        "trim.png": _trim(),
        "spread.png": _spread(),
        "radials.png": _radials(),
    }


def main() -> None:
    GALLERY.mkdir(exist_ok=True)
    for name, figure in gallery().items():
        save_figure(figure, GALLERY / name, force=True)
    save_figure(plot_swr(_reviewed("ridge_dipole_40m.s1p")), README_PICTURE, force=True)


def _reviewed(name: str) -> Review:
    return review(read_sweep(HERE / name), measured_at="feedpoint")


def _setup() -> Review:
    """What two bands of one setup look like; the samples are of two antennas."""
    names = ("ridge_dipole_40m.s1p", "meadow_vertical_3.s1p")
    return review_setup([read_sweep(HERE / name) for name in names])


def _repeats() -> Review:
    """The whip's sweep as a made-up wind would move it: its points shifted by one or two."""
    whip = read_sweep(HERE / "spit_whip_40m.s1p")
    assert whip.gamma is not None
    sweeps = []
    for k in range(3):
        source = replace(whip.source, path=f"spit_whip_in_the_wind_{k + 1}.s1p")
        part = slice(k, whip.f_hz.size - 2 + k)
        sweeps.append(
            Sweep(f_hz=whip.f_hz[1:-1], gamma=whip.gamma[part], gamma_abs=whip.gamma_abs[part], source=source)
        )
    return review_repeats(sweeps, measured_at="feedpoint")


def _line() -> Figure:
    """A line of three pieces: its response, and the places that ``feedline`` finds."""
    sweep = read_sweep(HERE / "mixed_chain_open.s1p")
    return plot_line(measure_line([(sweep, "open")], Told(velocity_factor=0.66)), sweep)


def _trim() -> Figure:
    """The long dipole's dip, and the line that its two sample sweeps make; made-up intervals."""
    first = _reviewed("ridge_dipole_40m_long.s1p").main_plane.dips[0].f_hz
    now = _reviewed("ridge_dipole_40m.s1p").main_plane.dips[0].f_hz
    assert first.value is not None
    assert now.value is not None
    slope = (now.value - first.value) / (10.14 - 10.58)
    at_m = np.linspace(10.0, 10.65, 40)
    value = now.value + slope * (at_m - 10.14)
    half = 3e3 + 6e4 * np.abs(at_m - 10.36) * 0.5
    predicted = now.value + slope * (10.09 - 10.14)
    return plot_trim(
        [TrimStep(10.58, first, "as put up"), TrimStep(10.14, now, "after a fold of 44 cm")],
        target_hz=7.13e6,
        line_m=at_m,
        line_hz=np.array([value - half, value, value + half]),
        predicted=TrimStep(10.09, Value(predicted, predicted - 1.1e4, predicted + 1.1e4), "fold 5 cm more"),
        name="ridge dipole",
    )


def _spread() -> Figure:
    """Made-up outings of one antenna."""
    rng = np.random.default_rng(5)
    groups = {}
    for site, middle, setups in (
        ("Quill Ridge", 7.09e6, 4),
        ("Sand spit, tide out", 7.04e6, 3),
        ("Mill meadow", 7.10e6, 1),
        ("Harbour wall", 7.07e6, 2),
    ):
        dips = middle + rng.normal(0, 9e3, setups)
        groups[site] = [Value(float(dip), float(dip) - 4e3, float(dip) + 4e3) for dip in dips]
    return plot_spread(
        groups, words="dip at each site", along="dip, MHz", scale=1e-6, usual_spread=9e3, name="ridge dipole"
    )


def _radials() -> Figure:
    """Made-up setups of one whip with two to sixteen radials."""
    steps = []
    for n in (2, 4, 8, 16):
        r_ohm, dip_hz, q = 36 + 60 / n, 7.1e6 - 4e5 / n**2, 75 - 70 / n
        steps.append(
            RadialStep(
                n,
                Value(dip_hz, dip_hz - 6e3, dip_hz + 6e3),
                Value(r_ohm, r_ohm - 2, r_ohm + 2),
                Value(q, 0.94 * q, 1.06 * q),
            )
        )
    return plot_radials(steps, name="spit whip")


if __name__ == "__main__":
    main()
