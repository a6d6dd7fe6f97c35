"""Kinds of antenna: what is trimmed, what a sweep of it usually shows, how its dip answers to length.

One module a kind, each with a ``KIND``; ``catalogue`` finds one by name. How a dip answers to length is a
distribution: physics where a formula is known (``wire_lines``), otherwise what families of wire models show
(``modelled``).
"""
