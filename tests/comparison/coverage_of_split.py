"""How often the intervals of a split of variance hold the truth; makes the table of docs/variance.md.

Run: python -m tests.comparison.coverage_of_split [TRIALS]
"""

import sys

import numpy as np

from sweepkit.comparison.variance import NAMES, split_variance

SD = {"antenna": 0.010, "site": 0.013, "setup": 0.004, "instrument": 0.001}  # relative, as in field practice
# antennas, sites, setups at each pair of them, sweeps of each setup, share of the sweeps that is missing
DESIGNS = {
    "2 antennas x 3 sites, 2 setups, 2 sweeps": (2, 3, 2, 2, 0.0),
    "3 antennas x 4 sites, 1 setup, 2 sweeps": (3, 4, 1, 2, 0.0),
    "3 antennas x 6 sites, 2 setups, 3 sweeps, a third missing": (3, 6, 2, 3, 1 / 3),
}


def one(design, dice):
    """The split of one simulated season."""
    antennas, sites, setups, sweeps, missing = design
    setup = np.repeat(np.arange(antennas * sites * setups), sweeps)
    antenna, site = setup // (sites * setups), setup // setups % sites
    y = dice.normal(0, SD["instrument"], setup.size)
    for name, label in (("antenna", antenna), ("site", site), ("setup", setup)):
        y = y + dice.normal(0, SD[name], label.max() + 1)[label]
    keep = dice.random(setup.size) >= missing
    return split_variance(y[keep], antenna=antenna[keep], site=site[keep], setup=setup[keep])


def main(trials):
    """Print the table."""
    print("| season | " + " | ".join(NAMES) + " |\n|---|" + "---|" * len(NAMES))
    for title, design in DESIGNS.items():
        dice = np.random.default_rng(7)
        splits = [one(design, dice) for _ in range(trials)]
        cells = []
        for k, name in enumerate(NAMES):
            every = [split.components[k].sd for split in splits]
            figures = [sd for sd in every if sd.value is not None]
            cells.append(f"{np.mean([f.low <= SD[name] <= f.high for f in figures]):.1%}")
        print(f"| {title} | " + " | ".join(cells) + " |")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 300)
