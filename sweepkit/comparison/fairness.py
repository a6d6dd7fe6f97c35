"""What makes a comparison unfair, by name; some of it leaves nothing that a difference could mean."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

from sweepkit.comparison.arms import LABEL, Arm, By, line_text
from sweepkit.comparison.setups import ComparedSetup, find_plane
from sweepkit.plain_types import HIDDEN

COARSER = 2.0  # steps that differ by more are other settings; common practice, no source
SEASON_MONTHS = 3  # ground that dries or freezes; common practice, no source
FAIR_SETUPS = 3  # of each side, in mixed order; common practice, no source
LENGTH_SHARE = 0.001  # lengths that differ by more are not the same wire
DIFFERS_WITH_LINE = ("dip_swr", "r_ohm", "bandwidth_hz")  # where a line stands in between


@dataclass(frozen=True)
class Unfair:
    """One thing that stands between the two sides besides what is compared.

    ``code``: stable, docs/names.md.
    ``text``: for people.
    ``bars``: quantities whose differences mean nothing because of it.
    ``pairs``: of these sides only, by label; empty: of all.
    """

    code: str
    text: str
    bars: tuple[str, ...] = field(default=(), metadata=HIDDEN)
    pairs: frozenset[frozenset[str]] = field(default=frozenset(), metadata=HIDDEN)

    def bars_between(self, name: str, sides: Iterable[str]) -> bool:
        """Whether it bars this quantity between two sides, or between one and all others."""
        labels = frozenset(sides)
        return name in self.bars and (not self.pairs or any(labels <= pair for pair in self.pairs))


def find_unfair(
    setups: Sequence[ComparedSetup], arms: Sequence[Arm], unknown: Sequence[ComparedSetup], by: By
) -> tuple[Unfair, ...]:
    """Everything that makes this comparison less than fair.

    ``unknown``: those that belong to no side.
    """
    found = [
        _unknown(unknown, by),
        *_too_few(arms, by),
        _same_file(setups),
        _disagreeing(setups),
        *_amiss(setups),
        _no_overlap(setups),
        _planes(setups),
        _line(setups, by),
        _steps(setups),
        _poor_sweeps(setups),
        _differs(setups, "length_m", "different-length", "the length of the wire", by, share=LENGTH_SHARE),
        _differs(setups, "radials", "different-radials", "the number of radials", by),
        _differs(setups, "ground", "different-ground", "the ground", by),
        _weather(setups),
        None if by == "month" else _season(setups),
        _control(arms, by),
    ]
    return tuple(unfair for unfair in found if unfair is not None)


def _unknown(unknown: Sequence[ComparedSetup], by: By) -> Unfair | None:
    if not unknown:
        return None
    names = listed(setup.id for setup in unknown)
    word = {"line": "line", "radials": "number of radials"}.get(by, by)
    return Unfair(
        f"unknown-{by}",
        f"left out, since nobody told the {word}: {names}; setup.toml beside the files, or log edit, tells it",
    )


def _too_few(arms: Sequence[Arm], by: By) -> Iterable[Unfair | None]:
    if len(arms) < 2:
        yield Unfair("one-side", f"fewer than two sides by {by} are told here; a comparison needs two")
        return
    if by == "setup":
        return
    few = [arm.label for arm in arms if len(arm.setups) < FAIR_SETUPS]
    if few:
        yield Unfair("too-few-setups", f"fewer than {FAIR_SETUPS} setups of: {listed(few)}; put it up again")
    outings = [outing for arm in arms for outing in arm.outings]
    if None not in outings and len(set(outings)) == 1 and by not in ("radials", "line"):
        yield Unfair("one-outing", "all of it is from one outing, which says nothing of the next one")


def _same_file(setups: Sequence[ComparedSetup]) -> Unfair | None:
    owners: dict[str, list[str]] = {}
    for setup in setups:
        for sha256 in setup.hashes:
            owners.setdefault(sha256, []).append(setup.id)
    twice = next((own for own in owners.values() if len(own) > 1), None)
    if twice is None:
        return None
    return Unfair("same-file", f"the same file stands for: {listed(twice)}; its likeness says nothing")


def _disagreeing(setups: Sequence[ComparedSetup]) -> Unfair | None:
    texts = [f"{setup.id}: {odd.text}" for setup in setups for odd in setup.disagree]
    if not texts:
        return None
    rest = f"; {len(texts) - 1} more such" if len(texts) > 1 else ""
    return Unfair(
        "disagreeing-sweeps",
        f"{texts[0]}; the later one counts here{rest}; log edit ID --set changed=..., --set length=... or --set "
        "set-aside=... tells what it was",
    )


def _amiss(setups: Sequence[ComparedSetup]) -> Iterable[Unfair]:
    """What the sweeps with one told calibration show to be wrong with it, or with their line."""
    findings = {setup.amiss.text: setup.amiss for setup in setups if setup.amiss is not None}
    for finding in findings.values():
        yield Unfair(
            finding.code, f"one calibration is told (calibrated); {finding.text}; {finding.next_step}"
        )
    wrong = [one.id for one in setups if any("line-told-wrong" in sweep.findings for sweep in one.sweeps)]
    if wrong:
        yield Unfair(
            "line-told-wrong",
            f"another line than the one told fits far better: {listed(wrong)}; review of each says which",
        )


def _no_overlap(setups: Sequence[ComparedSetup]) -> Unfair | None:
    sweeps = [sweep for setup in setups for sweep in setup.sweeps]
    if len(sweeps) > 1 and max(s.start_hz for s in sweeps) >= min(s.stop_hz for s in sweeps):
        return Unfair("no-overlap", "no frequency was swept in all of them")
    return None


def _planes(setups: Sequence[ComparedSetup]) -> Unfair | None:
    plane = find_plane(setups)
    if plane is None:
        return Unfair(
            "different-plane",
            "some were measured at the feedpoint, some elsewhere, with no line told; tell --line, or measured_at",
            ("dip_swr", "r_ohm", "q", "bandwidth_hz"),
        )
    if plane == "unknown" and len(setups) > 1:
        return Unfair(
            "unknown-plane",
            "nobody told where it was measured; R is not compared, since a line would turn it",
            ("r_ohm", "q"),
        )
    return None


def _line(setups: Sequence[ComparedSetup], by: By) -> Unfair | None:
    lines = {line_text(setup) for setup in setups}
    if by == "line" or len(lines) < 2:
        return None
    told = listed("not told" if line is None else line for line in sorted(lines, key=str))
    bars = () if find_plane(setups) == "feedpoint" else DIFFERS_WITH_LINE
    return Unfair("different-line", f"the line is not the same: {told}", bars)


def _steps(setups: Sequence[ComparedSetup]) -> Unfair | None:
    steps = [sweep.step_hz for setup in setups for sweep in setup.sweeps]
    if steps and max(steps) > COARSER * min(steps):
        span = f"{min(steps) / 1e3:.3g} to {max(steps) / 1e3:.3g} kHz"
        return Unfair("different-settings", f"the sweeps are not equally fine: a point every {span}")
    return None


def _poor_sweeps(setups: Sequence[ComparedSetup]) -> Unfair | None:
    poor = [setup.id for setup in setups if not all(sweep.adequate for sweep in setup.sweeps)]
    if not poor:
        return None
    return Unfair("poor-sweep", f"not good enough by itself, review says what to sweep: {listed(poor)}")


def _differs(
    setups: Sequence[ComparedSetup], fact: str, code: str, words: str, by: By, *, share: float | None = None
) -> Unfair | None:
    """A fact that is not the same within one antenna."""
    if fact == by or (by == "site" and fact == "ground"):
        return None
    antennas: dict[str | None, set[Any]] = {}
    for setup in setups:
        if fact in setup.facts:
            antennas.setdefault(setup.antenna, set()).add(setup.facts[fact])
    for values in antennas.values():
        if share is not None and max(values) - min(values) <= share * max(values):
            continue
        if len(values) > 1:
            texts = listed(f"{value:g}" if isinstance(value, float) else value for value in sorted(values))
            unit = " m" if fact.endswith("_m") else ""
            return Unfair(code, f"{words} is not the same: {texts}{unit}")
    return None


def _weather(setups: Sequence[ComparedSetup]) -> Unfair | None:
    def is_wet(setup: ComparedSetup) -> bool | None:
        words = set(setup.facts.get("weather") or ())
        return bool(words & {"wet", "rain", "damp", "snow", "ice", "frost"}) if words else None

    if {is_wet(setup) for setup in setups} >= {True, False}:
        return Unfair("different-weather", "some were wet or frozen, some dry")
    return None


def _season(setups: Sequence[ComparedSetup]) -> Unfair | None:
    months = sorted({int(setup.when[5:7]) for setup in setups if setup.when is not None})
    if len(months) < 2:
        return None
    apart = max(min(abs(a - b), 12 - abs(a - b)) for a in months for b in months)
    if apart < SEASON_MONTHS:
        return None
    return Unfair(
        "different-season", f"up to {apart} months of the year apart; the ground may not be the same"
    )


def _control(arms: Sequence[Arm], by: By) -> Unfair | None:
    """Something that was there on both sides: the same outing, or for sites the same second antenna."""
    if len(arms) < 2 or by == "setup":
        return None
    if by == "site":
        antennas = set.intersection(*({LABEL["antenna"](setup) for setup in arm.setups} for arm in arms))
        if len(antennas - {None}) >= 2:
            return None
        text = "one antenna alone was at all sites; a second one at each would tell the site from the antenna"
        return Unfair("missing-control", text)
    shared = set.intersection(*(set(arm.outings) for arm in arms)) - {None}
    if shared:
        return None
    return Unfair("missing-control", "no outing had all of them; what the outings differ by counts in")


def listed(names: Iterable[Any], most: int = 6) -> str:
    """Names with commas between; many are counted."""
    every = [str(name) for name in names]
    more = f" and {len(every) - most} more" if len(every) > most else ""
    return ", ".join(every[:most]) + more
