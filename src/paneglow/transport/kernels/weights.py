"""A photon's weights, one per channel, and the books of where they go."""

import math

from paneglow.transport.kernels.compile import hot_kernel, kernel
from paneglow.transport.kernels.inputs import ABSORBED
from paneglow.transport.kernels.random import next_uniform

LOW_WEIGHT = 0.25  # below it a photon survives with the chance weight / HIGH_WEIGHT
HIGH_WEIGHT = 0.5


@hot_kernel
def accumulate(tally, row, place, value):
    """Add to a tally that several photons may add to at a time; where they do, another function takes its place."""
    tally[row, place] += value


@kernel
def heaviest_weight(weight):
    heaviest = 0.0
    for c in range(weight.size):
        heaviest = max(heaviest, weight[c])
    return heaviest


@kernel
def survives_roulette(state, work):
    """Follow faint photons more rarely and heavier, mean unchanged. Returns (state, alive)."""
    heaviest = heaviest_weight(work.weight)
    if heaviest >= LOW_WEIGHT:
        return state, True
    state, u = next_uniform(state)
    if u * HIGH_WEIGHT >= heaviest:
        return state, False
    for c in range(work.weight.size):
        work.weight[c] *= HIGH_WEIGHT / heaviest
    return state, True


@kernel
def add_fate(fate, share, setup):
    """Book `share` of the photon's weights under a fate, as luminous flux."""
    view, work = setup.sight, setup.work
    for version in range(view.n_versions):
        total = 0.0
        for node in range(view.n_nodes):
            total += work.weight[version * view.n_nodes + node] * view.xyz[node, 1]
        work.fates[fate, version] += share * total


@kernel
def settle_absorption(path, setup):
    """Take the laminate's absorption along `path` off the weights and book it."""
    view, work = setup.sight, setup.work
    for version in range(view.n_versions):
        taken = 0.0
        for node in range(view.n_nodes):
            c = version * view.n_nodes + node
            left = work.weight[c] * math.exp(-setup.slab.absorb[c] * path)
            taken += (work.weight[c] - left) * view.xyz[node, 1]
            work.weight[c] = left
        work.fates[ABSORBED, version] += taken


@kernel
def scale_weights(factors, share, fate, setup):
    """Multiply weights by `factors[c]`; what is lost goes to a fate. `share` rescales what goes on, unbooked."""
    view, work = setup.sight, setup.work
    for version in range(view.n_versions):
        taken = 0.0
        for node in range(view.n_nodes):
            c = version * view.n_nodes + node
            taken += work.weight[c] * (1.0 - factors[c]) * view.xyz[node, 1]
            work.weight[c] *= factors[c] * share
        work.fates[fate, version] += taken


@kernel
def book_loss(transmit, reflect, setup):
    """Book what a film swallows: neither returned nor let through."""
    view, work = setup.sight, setup.work
    for version in range(view.n_versions):
        taken = 0.0
        for node in range(view.n_nodes):
            c = version * view.n_nodes + node
            taken += work.weight[c] * (1.0 - transmit[c] - reflect[c]) * view.xyz[node, 1]
        work.fates[ABSORBED, version] += taken


@kernel
def book_share(factors, fate, setup):
    """Book the shares `factors[c]` of the weights under a fate, weights unchanged."""
    view, work = setup.sight, setup.work
    for version in range(view.n_versions):
        total = 0.0
        for node in range(view.n_nodes):
            c = version * view.n_nodes + node
            total += work.weight[c] * factors[c] * view.xyz[node, 1]
        work.fates[fate, version] += total
