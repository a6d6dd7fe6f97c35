"""``sweepkit convert``: any readable sweep as Touchstone or as plain CSV."""

from __future__ import annotations

from pathlib import Path

from sweepkit.cli import options
from sweepkit.cli.exits import Exit
from sweepkit.cli.option_groups import Reading, command
from sweepkit.cli.options import option
from sweepkit.errors import BadInput
from sweepkit.saving import save_bytes


@command
def convert(
    *,
    files: options.Files,
    to: str = option("--to", "touchstone (1.1), touchstone-2 (2.0) or csv.", "FORMAT", default=...),
    output: Path | None = option(
        "-o --output", "File, or folder for several; one file alone: stdout.", "PATH"
    ),
    kit: options.Kit = None,
    force: options.Force = False,
    reading: Reading,
) -> Exit:
    """Write sweeps in another format; no number changes beyond its printed digits."""
    from sweepkit.cli.files import failed, is_one_file, load_sweeps
    from sweepkit.kit import as_kit
    from sweepkit.writers import FORMATS, sweep_text

    if to not in FORMATS:
        raise BadInput(f"--to is {to!r}; it is one of {', '.join(FORMATS)}")
    alone = is_one_file(files)
    if not alone and output is None:
        raise BadInput("several sweeps go to a folder; name it with -o")
    if not alone and output is not None and not output.is_dir():
        raise BadInput("several sweeps go to a folder, and this is none; make it first", path=str(output))
    if output is not None and not output.is_dir():
        _refuse_other_ending(output, to)
    written: set[Path] = set()
    code = Exit.DONE
    for loaded in load_sweeps(files, **reading.hints(as_kit(kit))):
        if loaded.sweep is None:
            code = max(code, loaded.code)
            continue
        try:
            text = sweep_text(loaded.sweep, to)
            if output is None:
                print(text, end="")
                continue
            target = output / (Path(loaded.path).stem + FORMATS[to]) if output.is_dir() else output
            if target in written:
                raise BadInput(
                    f"another input of this call was already written to {target}; convert it by itself"
                )
            save_bytes(target, text.encode("utf-8"), force=force, inputs=tuple(files))
            written.add(target)
        except Exception as error:
            code = max(code, failed(loaded.path, error).code)
    return code


def _refuse_other_ending(output: Path, to: str) -> None:
    """A file whose name says another format than its content would be read wrongly later."""
    from sweepkit.writers import FORMATS

    ending = output.suffix.lower()
    if ending in FORMATS.values() and (ending == FORMATS["csv"]) != (to == "csv"):
        raise BadInput(
            f"the name ends in {ending}, and --to {to} writes {FORMATS[to]}; name a file that ends in {FORMATS[to]}",
            path=str(output),
        )
