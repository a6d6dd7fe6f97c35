"""What is wrong: did anything change, and which causes live on.

Reads in this order: common_grid, spreads, change (did it change) -> seen (how) -> signatures, told_words, weigh
(which cause) -> proved (what one sweep proves) -> wording -> diagnose.
"""
