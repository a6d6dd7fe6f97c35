"""The functions behind ``sweepkit.review`` and its fellows: what a script or a notebook asks for.

Each takes a sweep or the path of one, lengths and frequencies as text with a unit or as a number in SI units, and gives
the answer of the floors below with two things more: tables (``to_frame``) and a short form for a notebook (``shown``).
``told`` turns what a caller wrote into what those floors take.
"""
