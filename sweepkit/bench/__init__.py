"""Boxes on the bench: a transformer, two back to back, a choke, an adapter; loss and impedance (docs/bench.md).

``ends`` is what was at the far side, ``two_port`` the arithmetic, ``measure`` the whole, ``answer`` its JSON and the
block for kit.toml.
"""
