"""The reference of the public names as pages: ``python docs/make_reference.py FOLDER``.

A warning is an error: a name that does not resolve, an annotation that cannot be read. Constructors of shown answers
are left out of that: nobody calls them, and their fields come from a class in another module, where they resolve.
"""

import sys
import warnings
from importlib import import_module
from pathlib import Path

import pdoc
import pdoc.render

# Modules whose names are public, and those of the answers that they give; sweepkit itself brings sweepkit.plots along.
MODULES = (
    "sweepkit",
    "sweepkit.answers",
    "sweepkit.sweep",
    "sweepkit.figures",
    "sweepkit.findings",
    "sweepkit.logbook",
)
INNER = r"!sweepkit[.](plots|logbook)[.].*", r"!sweepkit[.]answers[.](told|bands_asked|band_card)"


def make_reference(folder: Path) -> None:
    """Write a page for each of the modules."""
    warnings.simplefilter("error")
    inherited = r"Error parsing type annotation .* for sweepkit\.answers\.\w+\.Shown\w+\.__init__"
    warnings.filterwarnings("ignore", message=inherited)
    for name in (
        "sweepkit",
        "sweepkit.plots",
    ):  # their names load at first use, which a generator does not see
        package = import_module(name)
        for public in package.__all__:
            setattr(package, public, getattr(package, public))
    pdoc.render.configure(docformat="numpy", show_source=False, search=False)
    pdoc.pdoc(*MODULES, *INNER, output_directory=folder)


if __name__ == "__main__":
    make_reference(Path(sys.argv[1]))
