"""Stands for a photon's company (`kernels.company`) where nobody follows: lanes are plenty here, their memory is not.

Each function does what the one of its name does for a photon that is alone.
"""

import numpy as np

NOBODY = np.int32(0)  # the company, and its size


def company_size(work):
    return NOBODY


def placed(company, m, x, y):
    return x, y


def turned_with(company, m, ux, uy):
    return ux, uy


def part_at_wall(state, x, y, z, ux, uy, uz, work):
    return state


def part_where_they_meet(state, x, y, z, ux, uy, uz, face, work):
    return state


def deposit_in_company(x, y, scale, path, weight, kind, face, coat, slab, view, work):
    return
