"""Whether to transmit: direct, through the tuner, or not, and with how many watts (docs/kit.md).

``at_radio`` holds what is seen at the radio over one band. ``point_verdicts`` judges each frequency with
the help of ``tuner_reach``, ``segments`` gathers the points, ``band`` gives the verdict on the band,
``why`` its words and ``ledger`` where its watts go, from the formulas of ``power`` and ``tuner_loss``.
``too_good`` doubts a reading that is low everywhere.
"""

from sweepkit.station.at_radio import AtRadio
from sweepkit.station.band import BandVerdict, judge_band
from sweepkit.station.ledger import Ledger, PowerLoss
from sweepkit.station.point_verdicts import LOSS_NAMED_DB, LOSS_TOO_MUCH_DB, Verdict
from sweepkit.station.power import accepted_share, forward_w, leaving_w, share_from_loss_db
from sweepkit.station.segments import Segment
from sweepkit.station.too_good import find_flat_outside
from sweepkit.station.tuner_loss import (
    l_network_loss_db,
    tuner_loss_db,
    tuner_loss_db_from_half_and_double_load,
)
from sweepkit.station.tuner_reach import find_margin, margin_figure

__all__ = [
    "LOSS_NAMED_DB",
    "LOSS_TOO_MUCH_DB",
    "AtRadio",
    "BandVerdict",
    "Ledger",
    "PowerLoss",
    "Segment",
    "Verdict",
    "accepted_share",
    "find_flat_outside",
    "find_margin",
    "forward_w",
    "judge_band",
    "l_network_loss_db",
    "leaving_w",
    "margin_figure",
    "share_from_loss_db",
    "tuner_loss_db",
    "tuner_loss_db_from_half_and_double_load",
]
