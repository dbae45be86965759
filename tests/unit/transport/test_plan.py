"""Which jobs a scene is traced in, and with how many photons each."""

from dataclasses import replace

import numpy as np
import pytest

from paneglow.scene import Slab
from paneglow.transport.plan import N_BATCHES, jobs_of
from slab_scenes import lambertian, slab_scene

SLAB = {"optical_depth": 7.5, "albedo": 0.99, "asymmetry": 0.8, "refractive_index": 1.55}


def versions(*scatter_per_mm):
    """A scene whose laminate scatters so, each once clear and once tinted."""
    scene = slab_scene(emitter=lambertian(), **SLAB)
    slabs = tuple(
        Slab(name=f"{scatter:g} {absorb:g}", scatter_per_mm=scatter, absorb_per_mm=np.array([absorb]))
        for scatter in scatter_per_mm
        for absorb in (0.02, 0.2)
    )
    return replace(scene, slabs=slabs)


def test_versions_that_scatter_alike_share_a_job_and_the_nominal_one_comes_first():
    jobs = list(jobs_of(versions(7.5, 2.5, 15.0), number=3, photons=96_000))
    assert [job.indices for job in jobs] == [(0, 1), (2, 3), (4, 5)]
    assert all(job.number == 3 and job.n_batches == N_BATCHES for job in jobs)


@pytest.mark.parametrize(
    ("scatter_per_mm", "expected"),
    [
        ((7.5, 2.5, 15.0), [96_000, 8_000, 48_000]),
        ((7.5, 60.0), [96_000, 96_000]),
        ((0.0, 7.5), [96_000, 96_000]),
        ((7.5, 0.0), [96_000, 6_000]),
    ],
)
def test_ends_get_photons_in_proportion_to_their_scattering(scatter_per_mm, expected):
    jobs = jobs_of(versions(*scatter_per_mm), number=0, photons=96_000)
    assert [job.photons for job in jobs] == expected
