"""What is wrong: did anything change, and which causes live on.

Reads in this order: common_grid, spreads, change (did it change); dip, explained, seen (how); signatures,
told_words, weigh (which cause); proved (what one sweep proves), missing (what it lacks); wording; diagnose.
"""
