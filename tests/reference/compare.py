"""Trace every reference scene finely and write what was found: `make reference`.

Scores per scene: mean over all blocks against the renderer's, the worst block in combined standard errors, and the
chance of a chi-square as large as that of all blocks.
"""

import sys
import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from scipy import stats

import paneglow
from reference.facet_walk import ALL_FACETS, KINDS, ONE_FACET
from reference.scene_records import ReferenceScene
from reference.scenes import BY_FACET_WALK, SCENES, scene_named
from reference.tracing import Blocks, reference_blocks, traced_blocks

RESULTS = Path(__file__).parent / "RESULTS.md"
FULL_PHOTONS = 4_000_000
SEED = 20
HEAD = """# Reference scenes, as last compared

Written by `make reference`; do not edit by hand. Each scene of `scenes.py` was rendered with mitsuba 3.9.1 (volpath,
Henyey-Greenstein medium between dielectric faces, the scripts are here) and traced with paneglow {version} from plain
arrays, {photons:.1g} photons each. Values are radiances over that of the lamp. "se" are standard errors [%]; "worst" is
the block farthest off, in combined standard errors; "chi2" the chance of a greater sum of squares over all blocks.

mitsuba turns light at a matt face by one facet and drops what would meet a second. For the scenes named "by walk" the
reference is `facet_walk.py` over all facets; the last rows check that walk, by one facet, against mitsuba.

| scene | what matters in it | blocks | mean, reference | se % | mean, found | se % | off % | worst | chi2 |
|---|---|---|---|---|---|---|---|---|---|
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Agreement:
    """How two sets of blocks agree."""

    found: tuple[float, float]
    expected: tuple[float, float]
    worst_sigmas: float
    chance: float

    @property
    def off_frac(self) -> float:
        return self.found[0] / self.expected[0] - 1.0


def agreement(found: Blocks, expected: Blocks) -> Agreement:
    """Compare block by block and on the whole; blocks that neither sees count as equal."""
    error = np.hypot(found.se, expected.se)
    difference = found.mean - expected.mean
    z = np.divide(difference, error, out=np.zeros_like(difference), where=error > 0.0)
    z[(error == 0.0) & (difference != 0.0)] = np.inf
    return Agreement(
        found=found.whole,
        expected=expected.whole,
        worst_sigmas=float(np.abs(z).max()),
        chance=float(stats.chi2.sf(float((z**2).sum()), int((error > 0.0).sum()))),
    )


def expected_blocks(scene: ReferenceScene) -> Blocks:
    """The renderer's values; for very matt faces those of the walk that follows light over all facets."""
    return reference_blocks(scene, kind=KINDS[ALL_FACETS] if scene.name in BY_FACET_WALK else "")


def row(scene: ReferenceScene, result: Agreement, *, note: str = "") -> str:
    n_x, n_y = scene.blocks
    return (
        f"| {scene.name}{note} | {scene.claim} | {n_x} x {n_y} | {result.expected[0]:.5f} "
        f"| {100.0 * result.expected[1] / result.expected[0]:.2f} | {result.found[0]:.5f} "
        f"| {100.0 * result.found[1] / result.found[0]:.2f} | {100.0 * result.off_frac:+.2f} "
        f"| {result.worst_sigmas:.1f} | {result.chance:.2g} |\n"
    )


def main(names: list[str]) -> None:
    rows = ""
    for scene in SCENES:
        if names and scene.name not in names:
            continue
        started = time.perf_counter()
        result = agreement(traced_blocks(scene, photons=FULL_PHOTONS, seed=SEED), expected_blocks(scene))
        rows += row(scene, result, note=" (by walk)" if scene.name in BY_FACET_WALK else "")
        print(rows.splitlines()[-1], f"{time.perf_counter() - started:.0f} s", flush=True)  # noqa: T201
    for scene in map(scene_named, BY_FACET_WALK):
        walked = reference_blocks(scene, kind=KINDS[ONE_FACET])
        rows += row(scene, agreement(walked, reference_blocks(scene)), note=" (walk by one facet)")
    if not names:
        RESULTS.write_text(HEAD.format(version=paneglow.__version__, photons=FULL_PHOTONS) + rows)


if __name__ == "__main__":
    main(sys.argv[1:])
