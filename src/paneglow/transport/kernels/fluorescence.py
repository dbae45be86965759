"""Light that the laminate gives back at longer waves, every way alike, at the collisions of the walk.

Per length a photon meets scatter collisions and loses absorb of its weight, so absorb / scatter of it at each collision
on average; that much, shifted, is followed instead of the photon itself with a small chance, made up for in the weight.
"""

from paneglow.transport.kernels.compile import kernel
from paneglow.transport.kernels.phase import INVERSE_FULL_SPHERE, sample_isotropic
from paneglow.transport.kernels.view import pick_ray, score_toward_view


@kernel
def shift_weights(setup):
    """Weights of what is given back, in place of those of the photon that is absorbed."""
    slab, view, work = setup.slab, setup.sight, setup.work
    n_nodes = view.n_nodes
    for c in range(work.weight.size):
        work.saved_weight[c] = work.weight[c]
        work.weight[c] = 0.0
    per_collision = 1.0 / (slab.scatter * slab.shift_chance)
    for version in range(view.n_versions):
        for node in range(n_nodes):
            c = version * n_nodes + node
            taken = work.saved_weight[c] * slab.absorb[c] * per_collision
            if taken > 0.0:
                for other in range(n_nodes):
                    work.weight[version * n_nodes + other] += taken * slab.shifted[node, other]


@kernel
def unshift_weights(setup):
    """Make up for the chance that the photon was not followed."""
    work = setup.work
    for c in range(work.weight.size):
        work.weight[c] /= 1.0 - setup.slab.shift_chance


@kernel
def scatter_every_way(state, x, y, z, setup):
    """Score what is given back toward the view and draw its direction. Returns (state, ux, uy, uz)."""
    state, ray = pick_ray(state, x, y, setup)
    density = INVERSE_FULL_SPHERE
    state = score_toward_view(state, x, y, z, ray, density, density, 0.0, setup.work.weight, setup)
    return sample_isotropic(state)
