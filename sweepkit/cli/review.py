"""``sweepkit review``: one sweep or many, as text or JSON."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated, Any

import typer

from sweepkit.cli import options
from sweepkit.cli.exits import Exit, with_exit_code


@with_exit_code
def review(
    files: Annotated[list[Path], typer.Argument(help="Sweep files, or folders of them.", metavar="FILE...")],
    kit: options.Kit = None,
    line: options.Lines = None,
    measured_at: options.MeasuredAt = None,
    region: options.Region = None,
    swr_limit: Annotated[
        float | None, typer.Option("--swr-limit", help="Highest SWR for direct use.", metavar="X")
    ] = None,
    draws: options.Draws = 1000,
    seed: options.Seed = 0,
    as_json: options.Json = False,
) -> Exit:
    """Review sweeps: where the antenna dips, which bands it covers, and how sure that is."""
    from sweepkit.cli.files import error_json, is_one_file, load_sweeps
    from sweepkit.reviews import review as review_sweep

    answers: list[dict[str, Any]] = []
    bad = False
    for loaded in load_sweeps(files):
        if loaded.sweep is None:
            bad = True
            answers.append(error_json(loaded))
            continue
        answers.append(review_sweep(loaded.sweep, draws=draws, seed=seed, region=region).to_json())
    print(json.dumps(answers[0] if is_one_file(files) and answers else answers, indent=1, allow_nan=False))
    return Exit.CANNOT_RUN if bad else Exit.DONE
