"""One line for each command and for each form of its answer, over the samples; run in their folder."""

from __future__ import annotations

LINES = """
review ridge_dipole_40m.s1p --measured-at feedpoint
review ridge_dipole_40m_long.s1p --measured-at feedpoint
review valley_dipole_rg58.s1p --line "RG-58 15 m"
review valley_dipole_rg58.s1p --measured-at feedpoint
review valley_dipole_rg58.s1p
review spit_whip_40m_coarse.s1p
review broken_line.s1p --line "RG-58 20 m"
review crag_end_fed.s1p --line none
review ridge_dipole_40m.s1p spit_whip_40m.s1p --card
review ridge_dipole_40m.s1p meadow_vertical_3.s1p --setup
trim ridge_dipole_40m_long.s1p --kind dipole --length "10.58 m" --target "7.1 MHz" --measured-at feedpoint
trim ridge_dipole_40m.s1p --kind dipole --length "10.14 m" --target "7.09 MHz" --by cut --units imperial
trim spit_whip_40m_coarse.s1p --kind loaded-whip --length "2.6 m" --target "7.1 MHz"
trim ridge_dipole_40m_long.s1p --kind dipole --length "10.58 m" --target "7.1 MHz" --card
trim crag_end_fed.s1p --kind end-fed --length "20.4 m" --band "40 m" --band "20 m"
feedline spool_open.s1p --end open spool_short.s1p --end short --type RG-58
feedline wet_line_open.s1p --end open --length "20 m"
diagnose broken_line.s1p --line "RG-58 20 m"
diagnose meadow_vertical_2.s1p --baseline meadow_vertical_3.s1p --rejoined --kind vertical --line "RG-58 12 m"
bench box_load.s1p --into "2450 ohm" box_open.s1p --into open box_short.s1p --into short --ratio 49:1
bench choke_short.s1p --into short --box choke
compare ridge_dipole_40m.s1p ridge_dipole_40m_long.s1p --kind dipole --put-up-again
compare valley_dipole_feedpoint.s1p valley_dipole_rg58.s1p --kind dipole
kit try ridge_dipole_40m_long.s1p --measured-at feedpoint --tuner-swr 10
""".strip().splitlines()
LOGGED = """
log list
log show 1
log check
log figures
compare --antenna dipole-40m
compare --antenna dipole-40m --by site
review outings/2026-05-16_ridge_dipole/ridge_dipole_0516.s1p --antenna dipole-40m
trim outings/2026-04-18_ridge_dipole/ridge_dipole_0418_1.s1p --antenna dipole-40m --target "7.1 MHz"
""".strip().splitlines()
HELP = ["", *["review", "trim", "feedline", "diagnose", "compare", "convert", "plot", "bench", "kit", "log"]]
HELP += [f"kit {name}" for name in ("new", "check", "try")]
HELP += [f"log {name}" for name in ("add", "list", "show", "edit", "figures", "export", "import", "check")]
TAKES_DRAWS = ("review", "bench", "trim", "feedline", "diagnose", "compare")


def words_of(line: str) -> list[str]:
    """The line as words, with few draws where it takes them."""
    import shlex

    words = shlex.split(line)
    return [*words, "--draws", "50"] if words[0] in TAKES_DRAWS else words
