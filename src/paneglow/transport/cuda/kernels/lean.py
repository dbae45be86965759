"""The GPU's loop for one laminate version at one wavelength, and no copper inside.

A flight is as short as it can be (`flight`), and nothing rare is done by a lane alone. Each warp has three places to
wait, two of them in shared memory:

- a collision that is seen is written down in a queue, and its photon flies on; when 32 are waiting, they are scored by
  32 lanes at once;
- new photons are made 32 at a time and wait in a pool; a lane whose photon has ended takes one from there;
- a lane whose photon meets a face stands still until some lanes do.

What a photon does depends on its own random stream only, never on who waits with it.
"""

from functools import cache
from typing import Any

import numpy as np
from numba import cuda

from paneglow.transport.cuda.kernels.alone import NO_REPLICAS
from paneglow.transport.cuda.kernels.flight import (
    FLIES_ON,
    Flight,
    drawn_length,
    flight_of,
    next_word,
    turned_lean,
)
from paneglow.transport.cuda.kernels.lanes import (
    HAS_ENDED,
    HAS_STOPPED,
    IS_DONE,
    LANES,
    N_LANE_WORDS,
    N_NUMBERS,
    N_WORDS,
    SIDE_STREAM,
    SLOTS,
    WEIGHT,
    deal_with,
    lane_values,
    make_photons,
    meet_plain_face,
    put,
    put_lane,
    rank_,
    same_,
    score_waiting,
    take,
)
from paneglow.transport.cuda.kernels.loop import (
    BATCH,
    FIRST,
    JOB,
    LAST,
    PER_BATCH,
    PLACE,
    ROW,
    WHOLE_WARP,
    LoopShape,
    add_fates,
    clear_fates,
    draw_shift_,
    none,
    setup_row_of,
    single,
    slab_row,
)
from paneglow.transport.kernels.inputs import (
    N_FATES,
    Workspace,
)


@cache
def build_lean_loop(shape: LoopShape) -> Any:
    """Sizes bound into the loop; arguments as those of `build_loop`."""
    setup_row = setup_row_of(fixed={"n_versions": 1, "n_nodes": 1})
    threads, warps = shape.threads, shape.threads // LANES

    @cuda.jit(fastmath=True, launch_bounds=(shape.threads, shape.blocks_per_processor))
    def loop(table, seed, gathering, emitters, faces, coats, slabs, airs, views, maps, fates, angles):
        job, place, batch = table[cuda.blockIdx.x, JOB], table[cuda.blockIdx.x, PLACE], table[cuda.blockIdx.x, BATCH]
        first, per_batch = table[cuda.blockIdx.x, FIRST], table[cuda.blockIdx.x, PER_BATCH]
        n_samples = np.int32(table[cuda.blockIdx.x, LAST] - first)
        row = table[cuda.blockIdx.x, ROW]
        upcoming = cuda.shared.array(1, np.int32)
        queues = cuda.shared.array((warps, N_WORDS, SLOTS), single)
        queue_states = cuda.shared.array((warps, SLOTS), np.uint64)
        pools = cuda.shared.array((warps, N_WORDS, SLOTS), single)
        pool_states = cuda.shared.array((warps, SLOTS), np.uint64)
        lanes = cuda.shared.array((N_LANE_WORDS, threads), single)
        lane_states = cuda.shared.array(threads, np.uint64)
        wheres = cuda.shared.array(threads, np.int32)
        numbers = cuda.shared.array(N_NUMBERS, single)
        thread = np.uint32(cuda.threadIdx.x)
        wheres[thread] = HAS_ENDED
        if cuda.threadIdx.x == 0:
            upcoming[0] = none
        cuda.syncthreads()
        warp, lane = cuda.threadIdx.x // LANES, np.int32(cuda.threadIdx.x % LANES)
        queue, queue_state = queues[warp], queue_states[warp]
        pool, pool_state = pools[warp], pool_states[warp]
        shift = cuda.local.array(4, np.uint64)
        draw_shift_(batch, seed, emitters.number[job], shift)
        own_fates = cuda.local.array((N_FATES, 1), single)
        clear_fates(own_fates, 1)
        weight, branch_weight = cuda.local.array(1, single), cuda.local.array(1, single)
        bounce_weight, saved_weight = cuda.local.array(1, single), cuda.local.array(1, single)
        if cuda.threadIdx.x == 0:
            flight = flight_of(slab_row(slabs, job, place))
            for i in range(N_NUMBERS):
                numbers[i] = flight[i]
        cuda.syncthreads()
        numbering = seed, first, batch * per_batch
        keep, waiting, ready, more = none, none, none, True
        while True:
            cuda.syncwarp()

            flight = Flight(numbers[0], numbers[1], numbers[2], numbers[3], numbers[4], numbers[5], numbers[6])
            x, y, z, ux, uy, uz, path, safe, leg = lane_values(lanes, thread)
            state, flying = lane_states[thread], wheres[thread] == FLIES_ON
            flew = flying
            while True:
                vx, vy, vz, seen = ux, uy, uz, False
                if flying:
                    ahead = z + uz * leg
                    flying = abs(ahead) < flight.half and leg < safe
                    if flying:
                        x += ux * leg
                        y += uy * leg
                        z = ahead
                        path += leg
                        safe -= leg
                        state, word = next_word(state)
                        leg = drawn_length(word, flight.per_log2)
                        seen = z + leg > flight.seen_from
                        state, word = next_word(state)
                        vx, vy, vz = turned_lean(ux, uy, uz, word, flight)
                mask = cuda.ballot_sync(WHOLE_WARP, seen)
                if mask != 0:
                    if seen:
                        slot = np.uint32(waiting + rank_(mask, lane))
                        put(queue, slot, x, y, z, ux, uy, uz, path, lanes[WEIGHT, thread])
                        queue_state[slot] = state ^ SIDE_STREAM
                    waiting = np.int32(waiting + np.int32(cuda.popc(mask)))
                ux, uy, uz = vx, vy, vz
                if cuda.popc(cuda.ballot_sync(WHOLE_WARP, flying)) <= keep or waiting >= LANES:
                    break
            put_lane(lanes, thread, x, y, z, ux, uy, uz, path, safe, leg)
            lane_states[thread] = state
            if flew and not flying:
                wheres[thread] = HAS_STOPPED
            cuda.syncwarp()
            if waiting >= LANES:
                # What rare steps need is looked up each time: kept at hand, it would crowd the registers of the flight
                j, p, r = same_(job), same_(place), same_(row)
                work = Workspace(
                    weight, branch_weight, bounce_weight, saved_weight, maps[r], own_fates, angles[r], NO_REPLICAS
                )
                setup = setup_row(emitters, faces, coats, slabs, airs, views, j, p, work)
                waiting = score_waiting(waiting, lane, queue, queue_state, flight_of(setup.slab), setup)
                if cuda.popc(cuda.ballot_sync(WHOLE_WARP, wheres[thread] == FLIES_ON)) > keep:
                    continue
            j, p, r = same_(job), same_(place), same_(row)
            work = Workspace(
                weight, branch_weight, bounce_weight, saved_weight, maps[r], own_fates, angles[r], NO_REPLICAS
            )
            setup = setup_row(emitters, faces, coats, slabs, airs, views, j, p, work)
            flight = flight_of(setup.slab)
            if wheres[thread] == HAS_STOPPED:
                wheres[thread] = meet_plain_face(lanes, lane_states, thread, flight, setup)
            if cuda.any_sync(WHOLE_WARP, wheres[thread] == HAS_STOPPED):
                j, p, r = same_(job), same_(place), same_(row)
                work = Workspace(
                    weight, branch_weight, bounce_weight, saved_weight, maps[r], own_fates, angles[r], NO_REPLICAS
                )
                setup = setup_row(emitters, faces, coats, slabs, airs, views, j, p, work)
                if wheres[thread] == HAS_STOPPED:
                    wheres[thread] = deal_with(lanes, lane_states, thread, flight_of(setup.slab), setup)
            ended = wheres[thread] == HAS_ENDED
            mask = cuda.ballot_sync(WHOLE_WARP, ended)
            wanted = np.int32(cuda.popc(mask))
            while more and ready < wanted:
                j, p, r = same_(job), same_(place), same_(row)
                work = Workspace(
                    weight, branch_weight, bounce_weight, saved_weight, maps[r], own_fates, angles[r], NO_REPLICAS
                )
                setup = setup_row(emitters, faces, coats, slabs, airs, views, j, p, work)
                ready, more = make_photons(
                    ready, n_samples, numbering, lane, upcoming, pool, pool_state, shift, flight_of(setup.slab), setup,
                )  # fmt: skip
            if ended:
                slot = ready - np.int32(1) - rank_(mask, lane)
                wheres[thread] = IS_DONE
                if slot >= 0:
                    wheres[thread] = FLIES_ON
                    take(pool, pool_state, np.uint32(slot), lanes, lane_states, thread, numbers[1])
            ready = max(none, np.int32(ready - wanted))
            active = np.int32(cuda.popc(cuda.ballot_sync(WHOLE_WARP, wheres[thread] == FLIES_ON)))
            if active == 0:
                break
            keep = min(np.int32(active - np.int32(1)), np.int32(active * (LANES - gathering.stopped) // LANES))
        if waiting > 0:
            work = Workspace(
                weight, branch_weight, bounce_weight, saved_weight, maps[row], own_fates, angles[row], NO_REPLICAS
            )
            setup = setup_row(emitters, faces, coats, slabs, airs, views, job, place, work)
            score_waiting(waiting, lane, queue, queue_state, flight_of(setup.slab), setup)
        add_fates(own_fates, 1, fates, row)

    return loop
