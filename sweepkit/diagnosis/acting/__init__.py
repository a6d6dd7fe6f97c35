"""Causes acted out: what would the sweep be, had this befallen the station that swept well before?

Reads in this order: walk (voltage and current along the line), healthy (what an unchanged station differs by),
scene (the station as the sweep before, or the told line, shows it), slid (what no slide of a dip explains), starts,
climb and evidence (how well a story fits, summed over all that it leaves open), causes/ (a module for each), stories
(all of them, weighed).
"""
