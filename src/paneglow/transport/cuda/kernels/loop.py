"""The GPU's loop over photons: lanes of a warp that want the same done are gathered before it is done.

A photon's steps are those of the CPU (`kernels.launch`, `kernels.walk`), but the 32 lanes of a warp run in step, and a
lane that is alone at a face holds up 31 others. So a lane whose photon has met something rare waits until enough lanes
wait for the same, while the others fly on; and a lane whose photon has ended takes the block's next one.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType
from typing import Any, NamedTuple

import numpy as np
from numba import cuda

from paneglow.transport.cuda.device import GPU, ODD, compiled
from paneglow.transport.cuda.kernels.alone import NO_REPLICAS
from paneglow.transport.kernels.inputs import (
    BEFORE,
    BEHIND,
    COLLIDED,
    ENDED,
    IN_DOME,
    INSIDE,
    N_FATES,
    AirInput,
    CoatInput,
    EmitterInput,
    FaceInput,
    Setup,
    SlabInput,
    ViewInput,
    Workspace,
)
from paneglow.transport.kernels.launch import draw_shift, emit, fly_outside
from paneglow.transport.kernels.phase import turned
from paneglow.transport.kernels.random import stream_start
from paneglow.transport.kernels.walk import collision_score_weight, fly, meet, score_collision

WHOLE_WARP = 0xFFFFFFFF
DONE = -2  # no photon is left for this lane
PLACE_FIELDS = frozenset(FaceInput._fields) - {"x_min", "y_min"}  # have a row per scene
SIGHT_FIELDS = frozenset({"rays", "n_rays"})  # are the same for all jobs of a launch
JOB, PLACE, BATCH, ROW, FIRST, LAST, PER_BATCH = range(7)  # columns of the table of blocks


@dataclass(frozen=True, slots=True, kw_only=True)
class LoopShape:
    """What a loop is compiled for."""

    most_channels: int = 1  # 1 is compiled for one version at one wavelength node; room for more is counted at run time
    most_versions: int = 1
    is_lean: bool = False  # one version at one wavelength node and no copper inside (`lean.build_lean_loop`)
    threads: int = 128
    blocks_per_processor: int = 4


class Gathering(NamedTuple):
    """Lanes of a warp that must want the same before it is done, while others still fly."""

    flying: int = 24  # lanes that fly on, at most, when it is looked what the others want
    met: int = 8  # wait at a face, wall or copper
    seen: int = 8  # wait for their collision to be scored
    outside: int = 8  # wait for a photon, or have one outside the slab
    stopped: int = 16  # of 32 lanes in use, in the lean loop: have left the slab or its safe surroundings


def row_of(
    record: type[NamedTuple],
    *,
    by_place: frozenset[str] = frozenset(),
    shared: frozenset[str] = frozenset(),
    fixed: Mapping[str, int] = MappingProxyType({}),
) -> Any:
    """Device function that takes a record out of one of stacked fields.

    A field has a row per job; one `by_place` has a row per scene, a shared one has none, a fixed one is known already.
    """

    def source(name: str) -> str:
        if name in fixed:
            return repr(fixed[name])
        if name in shared:
            return f"stack.{name}"
        return f"stack.{name}[place]" if name in by_place else f"stack.{name}[job]"

    scope: dict[str, Any] = {"Record": record}
    exec(f"def row(stack, job, place):\n    return Record({', '.join(map(source, record._fields))})", scope)
    return compiled(scope["row"], True)


single, zero, none = np.float32, np.float32(0.0), np.int32(0)


def _clear_fates(own, n_versions):
    for fate in range(N_FATES):
        for version in range(n_versions):
            own[fate, version] = zero


def _add_fates(own, n_versions, fates, row):
    for fate in range(N_FATES):
        for version in range(n_versions):
            cuda.atomic.add(fates, (row, fate, version), own[fate, version])


clear_fates, add_fates = compiled(_clear_fates, True), compiled(_add_fates, True)
draw_shift_, emit_, fly_outside_ = GPU.ported(draw_shift), GPU.ported(emit), GPU.ported(fly_outside)
fly_, see_, score_ = GPU.ported(fly), GPU.ported(collision_score_weight), GPU.ported(score_collision)
turned_, meet_, stream_start_ = GPU.ported(turned), GPU.ported(meet), GPU.ported(stream_start)
emitter_row, coat_row, slab_row, air_row = map(row_of, (EmitterInput, CoatInput, SlabInput, AirInput))
face_row = row_of(FaceInput, by_place=PLACE_FIELDS)


def setup_row_of(*, fixed: Mapping[str, int] = MappingProxyType({})) -> Any:
    """Device function that puts together all that a job's photons meet; `fixed` are sizes known already."""
    view_row = row_of(ViewInput, shared=SIGHT_FIELDS, fixed=fixed)

    def setup_row(emitters, faces, coats, slabs, airs, views, job, place, work):
        return Setup(
            emitter_row(emitters, job, place),
            face_row(faces, job, place),
            coat_row(coats, job, place),
            slab_row(slabs, job, place),
            air_row(airs, job, place),
            view_row(views, job, place),
            work,
        )

    return compiled(setup_row, True)


@cache
def build_loop(shape: LoopShape) -> Any:
    """Compile-time sizes bound into the loop; it compiles when first launched.

    Returns
    -------
    CUDA kernel
        loop[blocks, threads](table, seed, gathering, emitters, faces, coats, slabs, airs, views, maps, fates, angles);
        the table has a row per block: job, scene, batch, row of the sums, first photon, end, photons of the batch.
    """
    sizes = {"n_versions": 1, "n_nodes": 1} if shape.most_channels == 1 else {}
    setup_row, view_row = setup_row_of(fixed=sizes), row_of(ViewInput, shared=SIGHT_FIELDS, fixed=sizes)
    most_versions, most_channels = shape.most_versions, shape.most_channels

    @cuda.jit(fastmath=True, launch_bounds=(shape.threads, shape.blocks_per_processor))
    def loop(table, seed, gathering, emitters, faces, coats, slabs, airs, views, maps, fates, angles):
        job, place, batch = table[cuda.blockIdx.x, JOB], table[cuda.blockIdx.x, PLACE], table[cuda.blockIdx.x, BATCH]
        last, per_batch = table[cuda.blockIdx.x, LAST], table[cuda.blockIdx.x, PER_BATCH]
        row = table[cuda.blockIdx.x, ROW]
        upcoming = cuda.shared.array(1, np.int64)
        if cuda.threadIdx.x == 0:
            upcoming[0] = table[cuda.blockIdx.x, FIRST]
        cuda.syncthreads()
        view = view_row(views, job, place)
        shift = cuda.local.array(4, np.uint64)
        draw_shift_(batch, seed, emitters.number[job], shift)
        own_fates = cuda.local.array((N_FATES, most_versions), single)
        clear_fates(own_fates, view.n_versions)
        n_channels = view.n_versions * view.n_nodes
        work = Workspace(
            cuda.local.array(most_channels, single)[:n_channels],
            cuda.local.array(most_channels, single)[:n_channels],
            cuda.local.array(most_channels, single)[:n_channels],
            cuda.local.array(most_channels, single)[:n_channels],
            maps[row],
            own_fates,
            angles[row],
            NO_REPLICAS,
        )
        setup = setup_row(emitters, faces, coats, slabs, airs, views, job, place, work)
        emitter, slab = setup.emitter, setup.slab
        state, where, layer, met = np.uint64(0), np.int32(ENDED), none, False
        x = y = z = ux = uy = uz = path = safe = leg = u = turns = heavier = zero
        while True:
            flying = cuda.popc(cuda.ballot_sync(WHOLE_WARP, where == INSIDE))
            if flying <= gathering.flying:
                forced = flying == 0
                if forced and cuda.all_sync(WHOLE_WARP, where == DONE):
                    break
                waits = DONE < where < INSIDE or where == IN_DOME
                if forced or cuda.popc(cuda.ballot_sync(WHOLE_WARP, waits)) >= gathering.outside:
                    if where == ENDED:
                        sample = cuda.atomic.add(upcoming, 0, 1)
                        where = DONE
                        if sample < last:
                            met, path, safe = False, zero, zero
                            state = stream_start_(seed, emitter.number, batch * per_batch + sample) | ODD
                            state, where, x, y, z, ux, uy, uz = emit_(state, sample, shift, setup)
                    if where == BEHIND or where == BEFORE or where == IN_DOME:
                        safe = zero
                        state, where, x, y, z, ux, uy, uz = fly_outside_(state, where, x, y, z, ux, uy, uz, met, setup)
                waits = where > COLLIDED
                if (forced or cuda.popc(cuda.ballot_sync(WHOLE_WARP, waits)) >= gathering.met) and waits:
                    state, where, x, y, z, ux, uy, uz = meet_(state, where, layer, x, y, z, ux, uy, uz, path, setup)
                    path = zero
                waits = where == COLLIDED
                if (forced or cuda.popc(cuda.ballot_sync(WHOLE_WARP, waits)) >= gathering.seen) and waits:
                    state = score_(state, heavier, x, y, z, ux, uy, uz, path, setup)
                    ux, uy, uz = turned_(ux, uy, uz, slab.asymmetry, u, turns)
                    where = INSIDE
            if where == INSIDE:
                met = True
                state, where, layer, x, y, z, safe, leg, u, turns = fly_(state, x, y, z, ux, uy, uz, safe, setup)
                path += leg
                if where == COLLIDED:
                    heavier = see_(turns, z, slab)
                    if heavier <= zero:
                        ux, uy, uz = turned_(ux, uy, uz, slab.asymmetry, u, turns)
                        where = INSIDE
        add_fates(own_fates, view.n_versions, fates, row)

    return loop
