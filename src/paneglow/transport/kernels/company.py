"""A photon's company: one path followed at many places at a time, as long as the board is alike there.

A walk through laminate costs far more than scoring it, and the laminate does not know where the walk began: turned
about the vertical, and begun at another point of the LED, the same path is as likely as itself. So a photon, the
leader, brings companions, each a fair photon of its own: same polar angle and same chances, another azimuth and
another start. All weights that are booked are those of the whole company. A companion that comes to a face unlike the
leader's, or near a wall, parts: it is one of few that walk on alone later, made heavier in turn, or it is dropped.

That light spreads alike from wherever it enters is what convolving Monte Carlo results by the beam stands on (Wang,
Jacques, Zheng, Comput. Meth. Prog. Bio. 54, 141 (1997), from memory); here it is used path by path, so that it need
hold only until a path meets something that breaks it.
"""

from paneglow.transport.kernels.compile import hot_kernel, inner_kernel

FOLLOWING = 0  # columns of Company.count
PARTED = 1
COSINE = 0  # columns of Company.place
SINE = 1
ORIGIN_X = 2
ORIGIN_Y = 3


@hot_kernel
def company_size(work):
    """Companions that still follow."""
    return work.company.count[FOLLOWING]


@hot_kernel
def placed(company, m, x, y):
    """Where companion m is while the leader is at x, y."""
    place = company.place
    return (
        place[m, ORIGIN_X] + place[m, COSINE] * x - place[m, SINE] * y,
        place[m, ORIGIN_Y] + place[m, SINE] * x + place[m, COSINE] * y,
    )


@inner_kernel
def dismiss_company(work):
    """Nobody follows any more: all of them have ended, or gone for ever, with the leader."""
    work.company.count[FOLLOWING] = 0


@inner_kernel
def n_parted(work):
    """Companions that have parted and wait to be followed alone."""
    return work.company.count[PARTED]
