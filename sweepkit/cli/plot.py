"""``sweepkit plot``: one picture of one sweep or of several."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from sweepkit.cli import options
from sweepkit.cli.exits import Exit
from sweepkit.cli.option_groups import Drawn, Gear, Reading, command
from sweepkit.cli.options import option
from sweepkit.errors import BadInput

KINDS = ("swr", "impedance", "smith", "return-loss", "overlay")


@command
def plot(
    *,
    files: options.Files,
    output: Path = option("-o --output", "PNG, SVG or PDF by the ending.", "PATH", default=...),
    kind: str | None = option(
        "--kind",
        "swr, impedance, smith or return-loss of one sweep; overlay of up to 12. "
        "Left out: swr of one, overlay of several.",
        "KIND",
    ),
    gear: Gear,
    region: options.Region = None,
    drawn: Drawn,
    force: options.Force = False,
    reading: Reading,
) -> Exit:
    """Draw sweeps: SWR, impedance, Smith chart, return loss, or several over one another."""
    from sweepkit import plots
    from sweepkit.cli.files import failed, load_sweeps
    from sweepkit.kit import as_kit
    from sweepkit.plots.saving import check_plot_path, save_figure
    from sweepkit.reviews.asked import ask
    from sweepkit.reviews.many import review_many

    if kind is not None and kind not in KINDS:
        raise BadInput(f"--kind is {kind!r}; it is one of {', '.join(KINDS)}")
    inputs = tuple(str(path) for path in files)
    check_plot_path(output, force=force, inputs=inputs)
    kit = as_kit(gear.kit)
    lines, place = gear.line_and_place(kit)
    told: dict[str, Any] = {
        "kit": kit,
        "lines": lines,
        "measured_at": place,
        "region": region,
        **drawn.both(),
    }
    loaded = list(load_sweeps(files, **reading.hints(kit)))
    sweeps = [each.sweep for each in loaded if each.sweep is not None]
    if not sweeps:
        return Exit.CANNOT_RUN
    kind = kind or ("swr" if len(sweeps) == 1 else "overlay")
    if kind != "overlay" and len(sweeps) > 1:
        raise BadInput(f"{len(sweeps)} sweeps and --kind {kind} draws one; name one file, or --kind overlay")
    asked, reviews = ask(**told), []
    for each, answer in review_many(loaded, lambda one: None if one.sweep is None else (one.sweep, asked)):
        if isinstance(answer, Exception):
            failed(each.path, answer)
        elif answer is not None:
            reviews.append(answer)
    if reviews:
        draw = getattr(plots, f"plot_{kind.replace('-', '_')}")  # only its module is loaded
        picture = draw(reviews) if kind == "overlay" else draw(reviews[0])
        save_figure(picture, output, force=force, inputs=inputs)
    return Exit.DONE if len(reviews) == len(loaded) else Exit.CANNOT_RUN
