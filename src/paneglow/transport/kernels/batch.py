"""Many photons of one emitter: one batch, an estimate of its own."""

import numpy as np

from paneglow.transport.kernels.compile import kernel
from paneglow.transport.kernels.launch import launch
from paneglow.transport.kernels.random import GOLDEN, scrambled, stream_start

SHIFT_STREAM = 1 << 40  # photon numbers stay below it; beyond lie the batches' own streams


@kernel
def draw_shift(batch, seed, emitter_number, shift):
    """Fill `shift[4]`, the random words by which a batch shifts its launch pattern."""
    state = stream_start(seed, emitter_number, SHIFT_STREAM + batch)
    for i in range(4):
        state = np.uint64(state) + GOLDEN
        shift[i] = scrambled(state)


@kernel
def trace_batch(batch, n_photons, seed, emitter, face, coat, slab, air, view, shift, work):
    """Trace one batch into the tallies of its workspace; `shift[4]` is scratch for its launch pattern."""
    draw_shift(batch, seed, emitter.number, shift)
    for sample in range(n_photons):
        state = stream_start(seed, emitter.number, batch * n_photons + sample)
        launch(state, sample, shift, emitter, face, coat, slab, air, view, work)
