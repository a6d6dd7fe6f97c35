"""What is worth saying beside the move, and what forbids any."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from sweepkit.findings import Finding
from sweepkit.kit import Box
from sweepkit.quantities import frequency_text
from sweepkit.reviews.next_sweep import NextSweep
from sweepkit.several_bands.answer import Aim, BandRow, BandsPlan, State, no_plan
from sweepkit.several_bands.places import Place
from sweepkit.several_bands.rows import SHARE_LOST, row_of
from sweepkit.several_bands.seen import SeenAll
from sweepkit.station.point_verdicts import LOSS_TOO_MUCH_DB
from sweepkit.trim.notices import doubt_kind


def notice_box(box: Box | None, places: Sequence[Place]) -> list[Finding]:
    """A told box that alone keeps places from being used."""
    lost = [] if box is None else [float(box.loss_at_db(place.middle_hz)) for place in places]
    names = [place.name for place, loss_db in zip(places, lost, strict=False) if loss_db > LOSS_TOO_MUCH_DB]
    if not names:
        return []
    share = 100 * (1 - 10 ** (-max(lost) / 10))
    text = f"the box loses up to {max(lost):.1f} dB ({share:.0f} % of the power), whatever the wire: {', '.join(names)}"
    return [Finding("box-loss", "warning", text, "take a better box first; sweepkit bench measures it")]


def notice_losses(rows: Sequence[BandRow]) -> list[Finding]:
    """Places that lose much of themselves, or leave direct use."""
    found = []
    for row in rows:
        now, then = row.now.share_within_limit.value, row.after.share_within_limit.value
        lost = now is not None and then is not None and now - then > SHARE_LOST
        out = row.now.verdict == "direct" and row.after.verdict != "direct" and then is not None
        if lost or out:
            text = f"{row.name} gives up: {100 * (now or 0):.0f} to {100 * (then or 0):.0f} % of it within the limit"
            if out:
                text += f", and from direct to {row.after.verdict}"
            found.append(
                Finding(
                    "gives-up", "warning", text, "give it more weight with --weight, or try the other --aim"
                )
            )
    return found


def notice_not_swept(rows: Sequence[BandRow]) -> list[Finding]:
    """Places that no sweep shows."""
    names = [row.name for row in rows if row.now.best_swr.value is None]
    if not names:
        return []
    text = f"not swept: {', '.join(names)}; the answer leaves it out"
    return [Finding("not-covered", "warning", text, "take the sweep named, and ask again with both files")]


def notice_reviews(seen: SeenAll) -> list[Finding]:
    """What the reviews have to say, but for what a fit over all places does not ask of a sweep."""
    hidden = ("span-too-narrow", "dip-at-edge", "too-coarse", "line-likely", "line-not-excluded")
    found = {
        (finding.code, finding.text): finding
        for file in seen.files
        for finding in file.seen.review.findings
        if finding.code not in hidden
    }
    return list(found.values())


def nothing_covered(seen: SeenAll) -> Finding:
    """That no place lies in what was swept."""
    spans = ", ".join(
        f"{frequency_text(file.view.f_hz[0])} to {frequency_text(file.view.f_hz[-1])}" for file in seen.files
    )
    return Finding(
        "not-covered",
        "stop",
        f"no place named lies in what was swept ({spans})",
        "take the sweeps named, or name a place that was swept",
    )


def kind_doubted(usual: str, title: str, seen: SeenAll) -> Finding | None:
    """Most dips of all sweeps turn the other way."""
    return doubt_kind([dip for _, dip in seen.dips()], usual, title)


def notice_line(seen: SeenAll) -> list[Finding]:
    """Where the feedpoint is not known, the figures are those where it was swept."""
    if all(file.seen.review.planes.feedpoint is not None for file in seen.files):
        return []
    return [
        Finding(
            "line-not-told",
            "note",
            "no line is told, so the figures hold where it was swept, not at the feedpoint; loss in the line makes "
            "every SWR look better",
            "tell it with --line, or --measured-at feedpoint",
        )
    ]


def stopped(
    seen: SeenAll,
    kind: str,
    aim: Aim,
    stops: Sequence[Finding],
    files: Sequence[dict[str, Any]],
    sweeps: tuple[NextSweep, ...],
) -> BandsPlan:
    """No move, because of a finding that forbids it."""
    why = next(finding.text for finding in stops if finding.level == "stop")
    unknown = State.unknown(why)
    return no_plan(
        files=files,
        kind=kind,
        aim=aim,
        why=why,
        bands=[row_of(place.place, unknown, unknown, "cannot_say", (), why) for place in seen.places],
        next_sweeps=sweeps,
        findings=stops,
    )
