"""Several bands on one antenna: one curve a band at the feedpoint, moved by what can be moved, and an aim over all.

``places`` are what the operator names; ``seen`` finds for each the sweep that shows it; ``one_wire`` plans a wire that
serves them all. The answer is the same for every kind (``answer``).
"""
