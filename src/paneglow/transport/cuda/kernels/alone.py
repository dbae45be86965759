"""Stands for a photon's replicas (`kernels.replicas`) where there are none: lanes are plenty here, memory is not.

Each function does what the one of its name does for a photon without replicas.
"""

import numpy as np

NO_REPLICAS = np.int32(0)  # the replicas, and their count


def count_replicas(work):
    return NO_REPLICAS


def replica_place(replicas, m, x, y):
    return x, y


def split_at_wall(state, x, y, z, ux, uy, uz, work):
    return state


def book_replicas_through(x, y, ux, uy, uz, setup):
    return


def split_all(state, where, x, y, z, ux, uy, uz, work):
    return state


def split_at_inner_face(state, x, y, z, ux, uy, uz, setup):
    return state


def deposit_replicas(x, y, share, path, weight, kind, setup):
    return


def book_replica_angles(x, y, bin_number, share, setup):
    return
