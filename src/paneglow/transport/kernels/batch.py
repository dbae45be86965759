"""Many photons of one emitter: one batch, an estimate of its own."""

from paneglow.transport.kernels.compile import kernel
from paneglow.transport.kernels.launch import launch
from paneglow.transport.kernels.random import next_uniform, stream_start

SHIFT_STREAM = 1 << 40  # photon numbers stay below it; beyond lie the batches' own streams


@kernel
def trace_batch(batch, n_photons, seed, emitter, face, coat, slab, air, view, shift, work):
    """Trace one batch into the tallies of its workspace; `shift[4]` is scratch for its launch pattern."""
    state = stream_start(seed, emitter.number, SHIFT_STREAM + batch)
    for i in range(4):
        state, u = next_uniform(state)
        shift[i] = u
    for sample in range(n_photons):
        state = stream_start(seed, emitter.number, batch * n_photons + sample)
        launch(state, sample, shift, emitter, face, coat, slab, air, view, work)
