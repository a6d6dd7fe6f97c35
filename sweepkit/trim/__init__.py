"""How much wire to trim: the dip's answer to length, learned, and a move that cannot go wrong.

``dip`` what a sweep shows -> ``which`` dip it is -> ``particles`` how it answers to length, sharpened by
earlier sweeps (``wire`` and ``folds``: what the wire was like then) -> ``move`` how far to go -> ``plan``.
"""
