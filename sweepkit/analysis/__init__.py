"""Figures out of reflection curves: pure array functions, frequency on the last axis.

Structure (where a dip is, how wide a window to fit) is decided once, on the measured curve; the figures come
from closed-form local fits that run on any leading axes, so the same code serves one sweep and a thousand
draws. An *ensemble* is a function that gives the reflection at some point indices: ``ensemble(index)`` has
shape (draws, len(index)), the measured curve first.
"""
