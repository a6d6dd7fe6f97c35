"""What must be said before wires go up, before they are changed and before the key goes down.

Plain texts, to be shown where such a step begins. Without a source beside it a text is common practice.
"""

from __future__ import annotations

LOOK_UP = "LOOK UP: wires?"  # first line of whatever begins a setup

# Twice the height: a maker's installation sheet for an HF antenna. 10 ft: 29 CFR 1910.333(c)(3), up to 50 kV.
OVERHEAD_LINES = (
    "Take every overhead line as live. Nothing that can fall or break loose may come within 3 m (10 ft)"
    " of one, and the antenna stands no nearer than twice its height; keep whichever is more, and more "
    "again for high voltage or where the local rule says so."
)
THROWING = (
    "Before a line is thrown: nobody below, no road and no wire behind the target, eyes protected. Mark"
    " wires, guys and coax so that nobody trips."
)
STATIC = (
    "Short the centre of a long wire to its shield before it goes to analyzer or radio. At the first "
    "thunder stop and leave; wind, dust and snow charge a wire under a clear sky too."
)
ANALYZER = (
    "No transmitter that can reach this antenna may be keyed while the analyzer is connected; a close "
    "neighbour's can damage it as well."
)
BYPASS_TUNER = (
    "Bypass the tuner before sweeping through it: in line it shows its own setting, not the antenna."
)
NO_DIRECT_CURRENT = (
    "No direct current on the coax while the analyzer hangs on it: unplug what feeds a remote switch, tuner or"
    " amplifier through the cable."
)
POWER_OFF = "Radio off and disconnected before anything is folded, cut, tapped or touched."
ONE_WAY = (
    "A cut cannot be undone; the figure is an estimate from one port. Fold first, then check at low power."
)
KEEP_OFF = (
    "Keep people off wires, radials, whip and the ends of an end-fed: they burn at modest power, and "
    "transformers and ends carry high voltage."
)
HOT_BOXES = (
    "Chokes, transformers and coils can heat at a low SWR: start at low power, let go of the key and feel them with "
    "the radio off; a ferrite may burn you."
)
BESIDE_YOU = "A whip on a table or a backpack stands beside you: keep your distance while the key is down."
# 47 CFR 97.13(c) and 1.1307 for one country; others have their own.
EXPOSURE = (
    "Evaluate the exposure of people nearby under the rule of your country before transmitting; this "
    "tool gives no distances."
)
LICENCE = (
    "Bands, power, modes and places that you may use are set by your licence and your country; the band"
    " table is a default, not the law."
)
NO_PROOF = (
    "A low SWR proves neither that the antenna radiates nor that it is safe or legal: a resistor has "
    "the lowest. Start at low power."
)
OUT_OF_SCOPE = (
    "Supports, climbing, vehicles, wind load, heat and lone working are outside what this tool can judge."
)

IN_SHORT = (
    "Before you key: people off wires, radials and whip; low power first; licence and exposure rule hold."
)

BEFORE_SWEEPING = (BYPASS_TUNER, NO_DIRECT_CURRENT)
BEFORE_SETTING_UP = (LOOK_UP, OVERHEAD_LINES, THROWING, STATIC, ANALYZER, *BEFORE_SWEEPING, OUT_OF_SCOPE)
BEFORE_TRIMMING = (POWER_OFF, ONE_WAY)
BEFORE_TRANSMITTING = (KEEP_OFF, HOT_BOXES, BESIDE_YOU, EXPOSURE, LICENCE, NO_PROOF)
