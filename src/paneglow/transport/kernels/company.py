"""A photon's company: one path followed at many places at a time, as long as the board is alike there.

A walk through laminate costs far more than scoring it, and the laminate does not know where the walk began: turned
about the vertical, and begun at another point of the LED, the same path is as likely as itself. So a photon, the
leader, brings companions, each a fair photon of its own: same polar angle and same chances, another azimuth and
another start. All weights that are booked are those of the whole company. Companions that come to a face unlike the
leader's part: one of them leads the others on later, or, where little light is theirs, they are dropped and in turn
made heavier where they are not.

That light spreads alike from wherever it enters is what convolving Monte Carlo results by the beam stands on (Wang,
Jacques, Zheng, Comput. Meth. Prog. Bio. 54, 141 (1997), from memory); here it is used path by path, so that it need
hold only until a path meets something that breaks it.
"""

from paneglow.transport.kernels.compile import hot_kernel, inner_kernel

# Columns of Company.rows: the rows of Company.place from the first up to the last are those that follow
FIRST = 0
LAST = 1
PARTED = 2
COSINE = 0  # columns of Company.place
SINE = 1
ORIGIN_X = 2
ORIGIN_Y = 3


@hot_kernel
def company_size(work):
    """Companions that follow."""
    return work.company.rows[LAST] - work.company.rows[FIRST]


@hot_kernel
def place_of(row, company, x, y):
    """Where the companion of a row is while the leader is at x, y."""
    place = company.place
    return (
        place[row, ORIGIN_X] + place[row, COSINE] * x - place[row, SINE] * y,
        place[row, ORIGIN_Y] + place[row, SINE] * x + place[row, COSINE] * y,
    )


@hot_kernel
def placed(company, m, x, y):
    """Where companion m of those that follow is while the leader is at x, y."""
    return place_of(company.rows[FIRST] + m, company, x, y)


@hot_kernel
def turned_with(company, m, ux, uy):
    """Sideways direction of companion m of those that follow, for that of the leader."""
    row = company.rows[FIRST] + m
    cosine, sine = company.place[row, COSINE], company.place[row, SINE]
    return cosine * ux - sine * uy, sine * ux + cosine * uy


@inner_kernel
def dismiss_company(work):
    """Nobody follows any more: all of them have ended, or gone for ever, with the leader."""
    work.company.rows[LAST] = work.company.rows[FIRST]


@inner_kernel
def n_parted(work):
    """Groups that have parted and wait to be followed."""
    return work.company.rows[PARTED]
