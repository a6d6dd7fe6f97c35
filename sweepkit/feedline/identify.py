"""What a swept piece of line is made of: one section or several, and what stands at its far end."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from sweepkit.conversions import FloatArray
from sweepkit.feedline.echoes import Echo, find_echoes, step_hz
from sweepkit.feedline.section_fit import SectionFit, SweptEnd, fit_sections
from sweepkit.feedline.sections import OPEN, SHORT, Sections

EXPLAINED = 0.05  # rms left of a full reflection; hand-held analyzers stay below; common practice, no source
# Usual errors of such an analyzer (docs/kit.md, the worse ends): directivity adds to any reflection, tracking
# goes with it, source match with its square. A weaker reflection so leaves less, and an antenna is no lossy line.
DIRECTIVITY, TRACKING, SOURCE_MATCH = 0.018, 0.032, 0.032
LEAST_GAIN = 2.0  # a further section, or an end that is neither open nor short, must leave so many times less
# Smallest reflection that is looked at: two lines 4 % apart, the error of 34 dB directivity
LEAST_ECHO = 0.02
MOST_JOINTS = 2
MOST_ECHOES = 4  # that are tried as the far end
FIRST_STEPS = 10  # of a first fit with joints; one that leads somewhere is then better than without them
START_LOSS_DB = (0.3, 0.003)  # where the search for the loss begins
SAME_DELAY = 0.01  # two fits within this share of each other are one
RIVAL = 1.5  # a fit that leaves so many times more explains the sweeps about as well


@dataclass(frozen=True, eq=False)
class Identified:
    """The structure found."""

    fit: SectionFit
    ends: tuple[float, ...]  # reflection at the far end in each sweep
    # another delay that explains the sweeps about as well: they do not tell the two apart
    rival: SectionFit | None
    # what the fit does not explain; all there are, where it does not explain the sweep
    echoes: tuple[Echo, ...]
    most_left: float = EXPLAINED  # rms of the reflection that a line with a bare end may leave

    @property
    def is_explained(self) -> bool:
        """Whether a line with a bare end is what was swept."""
        return self.fit.rms <= self.most_left


def identify(sweeps: Sequence[SweptEnd], *, reference_ohm: float) -> Identified:
    """The simplest sections and far end that explain the sweeps: each thing more must halve what is left."""
    echoes = all_echoes(sweeps[0])
    starts = beyond_connector(echoes, sweeps[0])[:MOST_ECHOES]
    best: Identified | None = None
    for ends in _possible_ends(sweeps):
        found = _with_ends(sweeps, ends, starts, reference_ohm)
        if best is None or found.fit.rms * (LEAST_GAIN if None in ends else 1) < best.fit.rms:
            best = found
        if best.is_explained and not best.echoes:
            break
    assert best is not None  # there is always one way to end a line
    return best if best.is_explained else replace(best, echoes=tuple(echoes))


def fit_beyond_range(
    sweeps: Sequence[SweptEnd], echoes: list[Echo], reference_ohm: float
) -> SectionFit | None:
    """A uniform line one or two times the unambiguous range longer than it seems, where it explains the sweeps.

    Its samples differ from those of the shorter line by a constant turn, unless the first frequency is a multiple of
    the step. Ends that were not told are taken as open, then as short; ``echoes`` come from :func:`beyond_connector`.
    """
    range_s = 1 / (2 * step_hz(sweeps[0].f_hz))
    beyond_s = [echoes[0].delay_s / 2 + turns * range_s for turns in (1, 2)]
    for guess in (OPEN, SHORT):
        known = [replace(sweep, end=guess if sweep.end is None else sweep.end) for sweep in sweeps]
        fit = _uniform_fits(known, beyond_s, reference_ohm)[0]
        if fit.rms <= most_left(sweeps):
            return fit
    return None


def most_left(sweeps: Sequence[SweptEnd]) -> float:
    """Rms that a line with a bare end may leave, by how much these sweeps reflect."""
    power = float(np.mean([np.mean(np.abs(sweep.gamma) ** 2) for sweep in sweeps]))
    usual = DIRECTIVITY**2 + TRACKING**2 * power + SOURCE_MATCH**2 * power**2
    return EXPLAINED * float(np.sqrt(usual / (DIRECTIVITY**2 + TRACKING**2 + SOURCE_MATCH**2)))


def all_echoes(sweep: SweptEnd) -> list[Echo]:
    """Reflections in a sweep, largest first."""
    return find_echoes(sweep.f_hz, sweep.gamma, least=LEAST_ECHO, longest_s=1 / step_hz(sweep.f_hz))


def beyond_connector(echoes: list[Echo], sweep: SweptEnd) -> list[Echo]:
    """Those that are not at the analyzer's own connector."""
    return [echo for echo in echoes if echo.delay_s > 0.25 / float(sweep.f_hz[-1])]


def _possible_ends(sweeps: Sequence[SweptEnd]) -> list[tuple[float | None, ...]]:
    """As told; where nothing is told, an open, a short, or any resistance."""
    if all(sweep.end is not None for sweep in sweeps):
        return [tuple(sweep.end for sweep in sweeps)]
    return [
        tuple(guess if sweep.end is None else sweep.end for sweep in sweeps) for guess in (OPEN, SHORT, None)
    ]


def _with_ends(
    sweeps: Sequence[SweptEnd], ends: tuple[float | None, ...], echoes: list[Echo], reference_ohm: float
) -> Identified:
    """The simplest line with these ends: uniform, else with joints."""
    known = [replace(sweep, end=end) for sweep, end in zip(sweeps, ends, strict=True)]
    f_hz = sweeps[0].f_hz
    echo_s = echoes[0].delay_s / 2 if echoes else 0.5 / float(f_hz[-1])
    fits = _uniform_fits(known, _nearby(f_hz, echo_s), reference_ohm)
    fit, rival, enough = fits[0], _rival(fits), most_left(sweeps)
    if fit.rms > enough or _left_echoes(fit, sweeps):
        for tried in _jointed_fits(known, fit, echoes, reference_ohm):
            if tried.rms < fit.rms:
                jointed = fit_sections(
                    known, tried.sections, reference_ohm=reference_ohm, end_guess=tried.end
                )
                if LEAST_GAIN * jointed.rms < fit.rms:
                    fit, rival = jointed, None
            if fit.rms <= enough and not _left_echoes(fit, sweeps):
                break
    found = tuple(fit.end if end is None else end for end in ends)
    return Identified(fit, found, rival, tuple(_left_echoes(fit, sweeps)), enough)


def _uniform_fits(
    sweeps: Sequence[SweptEnd], delays_s: list[float], reference_ohm: float
) -> list[SectionFit]:
    """One section from each start, best first."""
    starts = [Sections((delay_s,), (reference_ohm,), *START_LOSS_DB) for delay_s in delays_s]
    fits = [fit_sections(sweeps, start, reference_ohm=reference_ohm, end_guess=0.1) for start in starts]
    return sorted(fits, key=lambda fit: fit.rms)


def _nearby(f_hz: FloatArray, delay_s: float) -> list[float]:
    """The delay of the main echo; in a narrow sweep also the next ones with the same phase."""
    middle_hz = float(f_hz[0] + f_hz[-1]) / 2
    if f_hz[-1] - f_hz[0] >= middle_hz:
        return [delay_s]
    delays_s = [delay_s + turns / (2 * middle_hz) for turns in (0, -2, -1, 1, 2)]
    return [delay for delay in delays_s if delay > 0]


def _rival(fits: list[SectionFit]) -> SectionFit | None:
    """Another delay that explains the sweeps nearly as well as the best."""
    best = fits[0]
    for fit in fits[1:]:
        apart = abs(fit.sections.total_delay_s / best.sections.total_delay_s - 1)
        if apart > SAME_DELAY and fit.rms < RIVAL * best.rms:
            return fit
    return None


def _jointed_fits(
    sweeps: Sequence[SweptEnd], uniform: SectionFit, echoes: list[Echo], reference_ohm: float
) -> Iterator[SectionFit]:
    """Two sections, then three: each echo tried as the far end, the largest before it as joints."""
    for count in range(1, MOST_JOINTS + 1):
        for end in echoes:
            inside = [echo for echo in echoes if echo.delay_s < 0.97 * end.delay_s][:count]
            if len(inside) == count:
                start = _joined(uniform.sections, sorted(inside, key=lambda echo: echo.delay_s), end)
                yield fit_sections(
                    sweeps, start, reference_ohm=reference_ohm, end_guess=0.1, most_steps=FIRST_STEPS
                )


def _joined(uniform: Sections, joints: list[Echo], end: Echo) -> Sections:
    """A line cut at the echoes, each a step of impedance of its size and sign."""
    cuts_s = [0.0, *[echo.delay_s / 2 for echo in joints], end.delay_s / 2]
    z0_ohm = [50.0]
    for echo in joints:
        rho = float(np.clip(echo.size * np.sign(np.cos(echo.phase_rad)), -0.6, 0.6))
        z0_ohm.append(z0_ohm[-1] * (1 + rho) / (1 - rho))
    k1_db, k2_db = np.clip(uniform.k1_db, 0.1, 5.0), np.clip(uniform.k2_db, 0.0, 0.1)
    return Sections(tuple(np.diff(cuts_s).tolist()), tuple(z0_ohm), float(k1_db), float(k2_db))


def _left_echoes(fit: SectionFit, sweeps: Sequence[SweptEnd]) -> list[Echo]:
    """Reflections in what the fit leaves, inside the line and clear of noise and of an analyzer's errors."""
    f_hz = sweeps[0].f_hz
    least = max(LEAST_ECHO, 6 * fit.rms * float(np.sqrt(2 / f_hz.size)))
    total_s = 2 * fit.sections.total_delay_s
    echoes = find_echoes(f_hz, fit.left[0], least=least, longest_s=1.02 * total_s)
    return [echo for echo in echoes if echo.delay_s > 0.02 * total_s]
