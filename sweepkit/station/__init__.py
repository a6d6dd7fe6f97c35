"""Whether to transmit: direct, through the tuner, or not, and with how many watts (docs/kit.md).

``at_radio`` holds what is seen at the radio over one band. ``point_verdicts`` judges each frequency with
the help of ``tuner_reach``, ``segments`` gathers the points, ``band`` gives the verdict on the band,
``why`` its words and ``ledger`` where its watts go, from the formulas of ``power`` and ``tuner_loss``.
``too_good`` doubts a reading that is low everywhere.
"""
