"""How far a bare line would have to be swept to show what this sweep leaves open."""

from __future__ import annotations

import numpy as np

from sweepkit.diagnosis.acting.act import BARE_OFF
from sweepkit.diagnosis.acting.causes.joint import joints
from sweepkit.diagnosis.acting.causes.other_piece import other_pieces
from sweepkit.diagnosis.acting.evidence import Judge
from sweepkit.diagnosis.acting.healthy import Condition, analyzer_covariance
from sweepkit.diagnosis.acting.scene import scene_as_told
from sweepkit.diagnosis.acting.story import predictor
from sweepkit.feedline.chain import LineChain
from sweepkit.kit import Analyzer
from sweepkit.kit.analyzer import rms_of

# Of analyzers as they are made; common practice, no source
STOPS_MHZ = (30.0, 60.0, 150.0, 230.0, 300.0, 500.0)
POINTS = 96
PLAIN = 12.0  # nats of evidence for a fault over a sound line, after they are tempered three to one: 50 to 1
EXAMPLE = {
    "loose-joint": (0.0, 0.3),
    "wrong-impedance-piece": (0.0, -0.6),
}  # mid line: some 15 ohm; some 1.3 m


def span_that_shows(
    code: str, chain: LineChain, analyzer: Analyzer, *, reference_ohm: float = 50.0
) -> float | None:
    """Upper end [Hz] of the first usual span in which such a fault in the middle of the bare open line is plain.

    ``code`` is ``loose-joint`` or ``wrong-impedance-piece``; ``None`` where none of them shows it.
    """
    for stop_mhz in STOPS_MHZ:
        f_hz = np.linspace(1e6, stop_mhz * 1e6, POINTS)
        scene = scene_as_told(f_hz, np.zeros(POINTS, complex), chain, end="open", reference_ohm=reference_ohm)
        stories = joints(scene, chance=1.0) if code == "loose-joint" else other_pieces(scene, chance=1.0)
        story = next(iter(stories))
        own = np.zeros((1, story.starts.shape[1]))
        own[0, :2] = EXAMPLE[code]
        own = story.guess(own)
        h = np.zeros((1, scene.sigmas.size))
        faulty = story.act(scene, h, own)[0]
        sizes = (
            rms_of(size) for size in (analyzer.directivity, analyzer.tracking_size, analyzer.source_match)
        )
        covariance = analyzer_covariance(f_hz, faulty, *sizes)
        covariance = covariance + np.diag(1e-6 + (BARE_OFF * np.abs(faulty)) ** 2)
        judge = Judge(faulty, [Condition(1.0, scene.sigmas, covariance)], bands=scene.bands)
        sound = judge.fit(scene.healthy, np.zeros((1, 0)))
        at_truth = judge.fit(predictor(scene, story), own, fixed=len(story.kept))
        if at_truth.by_rung[0] - sound.by_rung[0] > PLAIN:
            return stop_mhz * 1e6
    return None
