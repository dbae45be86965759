"""Light of one LED put together: from the jobs of its versions, and from stages traced one after the other."""

from collections.abc import Iterable
from dataclasses import fields, replace

import numpy as np
import numpy.typing as npt

from paneglow.scene import Scene
from paneglow.transport.job import BatchTally, TraceJob
from paneglow.transport.tally import Fates, LedLight

FloatArray = npt.NDArray[np.float64]


def light_of(scene: Scene, tallies: Iterable[tuple[TraceJob, BatchTally]]) -> LedLight:
    """Versions of all jobs of one emitter in the scene's order; the job of the nominal version comes first."""
    traced = sorted(tallies, key=lambda pair: pair[0].indices)
    n_versions = len(scene.slabs)
    first_job, first = traced[0]
    xyz = np.zeros((n_versions, 3, *first_job.map_grid.shape), dtype=np.float32)
    means = np.zeros((first.fates.shape[1], n_versions))
    errors = np.zeros_like(means)
    angles = np.zeros((*first.angles.shape[1:3], n_versions))
    for job, tally in traced:
        at = list(job.indices)
        xyz[at] = tally.maps.mean(axis=0)
        means[:, at] = tally.fates.mean(axis=0)
        angles[:, :, at] = tally.angles.mean(axis=0)
        errors[:, at] = tally.fates.std(axis=0, ddof=1) / np.sqrt(job.n_batches)
    return LedLight(
        ref=first_job.emitter.ref,
        xyz=xyz,
        batches=np.stack([tally.maps[:, 0, 1] for _, tally in traced]),
        fates=_named(means),
        fates_se=_named(errors),
        angles=angles,
        angles_se=first.angles[..., 0].std(axis=0, ddof=1) / np.sqrt(first_job.n_batches),
        photons=first_job.photons,
    )


def _named(rows: FloatArray) -> Fates:
    """Rows in the order of the kernels' fates, by name."""
    front, through, back, edge, hole, absorbed, missed = rows
    return Fates(front=front, through=through, back=back, edge=edge, hole=hole, absorbed=absorbed, missed=missed)


def joined(earlier: LedLight, later: LedLight) -> LedLight:
    """Two independent stages of one LED's trace as one, each by its photons; batches pair up and stay independent."""
    photons = earlier.photons + later.photons
    old, new = earlier.photons / photons, later.photons / photons

    def mean(a: FloatArray, b: FloatArray) -> FloatArray:
        return old * a + new * b

    def error(a: FloatArray, b: FloatArray) -> FloatArray:
        return np.asarray(np.hypot(old * a, new * b))

    def light_mean(a: npt.NDArray[np.float32], b: npt.NDArray[np.float32]) -> npt.NDArray[np.float32]:
        return np.float32(old) * a + np.float32(new) * b

    names = [field.name for field in fields(Fates)]
    return replace(
        earlier,
        xyz=light_mean(earlier.xyz, later.xyz),
        batches=light_mean(earlier.batches, later.batches),
        fates=Fates(**{name: mean(getattr(earlier.fates, name), getattr(later.fates, name)) for name in names}),
        fates_se=Fates(
            **{name: error(getattr(earlier.fates_se, name), getattr(later.fates_se, name)) for name in names}
        ),
        angles=mean(earlier.angles, later.angles),
        angles_se=error(earlier.angles_se, later.angles_se),
        photons=photons,
    )
