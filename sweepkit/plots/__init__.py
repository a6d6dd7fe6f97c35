"""Figures: each plot is a function that returns a matplotlib Figure; ``saving`` writes it to a file.

matplotlib is loaded by the functions, not by the package; pyplot never.
"""
