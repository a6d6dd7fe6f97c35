"""A sweep as text: Touchstone 1.1 or 2.0, or a plain CSV. Numbers are written so that they read back the same."""

from __future__ import annotations

from collections.abc import Iterator

from sweepkit.conversions import z_from_gamma
from sweepkit.errors import BadInput
from sweepkit.sweep import Sweep

FORMATS = {"touchstone": ".s1p", "touchstone-2": ".ts", "csv": ".csv"}


def sweep_text(sweep: Sweep, form: str) -> str:
    """The file of a sweep.

    ``form``: touchstone 1.1 or 2.0 with real and imaginary part in hertz (Touchstone File Format Specification 2.0,
    IBIS Open Forum, 2009), or CSV: frequency, what is known of the reflection, reference resistance.
    Raises ``BadInput``: touchstone holds complex numbers; a sweep without signed phase has none.
    """
    if form not in FORMATS:
        raise BadInput(f"{form!r} is no format; choose one of {', '.join(FORMATS)}")
    lines = _csv(sweep) if form == "csv" else _touchstone(sweep, version_2=form == "touchstone-2")
    return "\n".join(lines) + "\n"


def _touchstone(sweep: Sweep, *, version_2: bool) -> Iterator[str]:
    if sweep.gamma is None:
        raise BadInput(
            f"this sweep has no signed phase (phase: {sweep.phase}), and Touchstone holds complex numbers; "
            "write it with --to csv",
            path=sweep.source.path or None,
        )
    for comment in sweep.source.comments:
        yield f"! {_one_line(comment)}"
    if version_2:
        yield from ("[Version] 2.0", f"# Hz S RI R {sweep.reference_ohm!r}", "[Number of Ports] 1")
        yield from (f"[Number of Frequencies] {sweep.f_hz.size}", f"[Reference] {sweep.reference_ohm!r}")
        yield "[Network Data]"
    else:
        yield f"# Hz S RI R {sweep.reference_ohm!r}"
    for f_hz, gamma in zip(sweep.f_hz.tolist(), sweep.gamma.tolist(), strict=True):
        yield f"{f_hz!r} {gamma.real!r} {gamma.imag!r}"
    if version_2:
        yield "[End]"


def _csv(sweep: Sweep) -> Iterator[str]:
    """Headings that the table reader knows, with their units."""
    if sweep.gamma is not None:
        yield "Frequency (Hz),Re(S11),Im(S11),Z0 (ohm)"
        values = [f"{gamma.real!r},{gamma.imag!r}" for gamma in sweep.gamma.tolist()]
    elif sweep.gamma_folded is not None:
        yield "Frequency (Hz),R (ohm),|X| (ohm),Z0 (ohm)"
        z_ohm = z_from_gamma(sweep.gamma_folded, sweep.reference_ohm).tolist()
        values = [f"{z.real!r},{abs(z.imag)!r}" for z in z_ohm]
    else:
        yield "Frequency (Hz),|S11|,Z0 (ohm)"
        values = [repr(magnitude) for magnitude in sweep.gamma_abs.tolist()]
    for f_hz, value in zip(sweep.f_hz.tolist(), values, strict=True):
        yield f"{f_hz!r},{value},{sweep.reference_ohm!r}"


def _one_line(text: str) -> str:
    """A remark that cannot end its line."""
    return "".join(character if character.isprintable() else " " for character in text)
