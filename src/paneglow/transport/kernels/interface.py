"""Smooth faces: reflectance, refraction, diffuse directions."""

import math

from paneglow.transport.kernels.compile import kernel
from paneglow.transport.kernels.random import next_uniform

HALF_PI = 0.5 * math.pi
# Coefficients of the series of sine and cosine, 1/k! with its sign
SIN_3, SIN_5, SIN_7, SIN_9, SIN_11 = -1 / 6, 1 / 120, -1 / 5040, 1 / 362880, -1 / 39916800
COS_2, COS_4, COS_6, COS_8, COS_10 = -1 / 2, 1 / 24, -1 / 720, 1 / 40320, -1 / 3628800


@kernel
def inverse_sqrt(value):
    return 1.0 / math.sqrt(value)


@kernel
def reflectance_at(mu, n):
    """Unpolarised Fresnel reflectance; n is the index beyond over the index before."""
    sin2 = (1.0 - mu * mu) / (n * n)
    if sin2 >= 1.0:
        return 1.0
    mu_out = math.sqrt(1.0 - sin2)
    across = mu + n * mu_out
    along = mu_out + n * mu
    # Both sums vanish only at grazing incidence between equal indices, where nothing reflects
    if across <= 0.0 or along <= 0.0:
        return 0.0
    r_s = (mu - n * mu_out) / across
    r_p = (mu_out - n * mu) / along
    return 0.5 * (r_s * r_s + r_p * r_p)


@kernel
def unit_circle(turns):
    """Point of the unit circle, turns [0, 1) counted from -45 degrees, by series; good to 2e-10."""
    quarters = 4.0 * turns
    quadrant = int(quarters)
    t = (quarters - float(quadrant) - 0.5) * HALF_PI
    t2 = t * t
    sine = t * (1.0 + t2 * (SIN_3 + t2 * (SIN_5 + t2 * (SIN_7 + t2 * (SIN_9 + t2 * SIN_11)))))
    cosine = 1.0 + t2 * (COS_2 + t2 * (COS_4 + t2 * (COS_6 + t2 * (COS_8 + t2 * COS_10))))
    across = sine if quadrant & 1 else cosine
    along = cosine if quadrant & 1 else sine
    return (-across if quadrant == 1 or quadrant == 2 else across), (-along if quadrant >= 2 else along)


@kernel
def sample_unit_disc(state):
    """Point of the rim of the unit disc."""
    state, u = next_uniform(state)
    cosine, sine = unit_circle(u)
    return state, cosine, sine


@kernel
def sample_lambertian(state, sign):
    """Direction of a Lambertian face whose normal is +z (sign 1) or -z (sign -1)."""
    state, u = next_uniform(state)
    state, cos_azimuth, sin_azimuth = sample_unit_disc(state)
    sine = math.sqrt(1.0 - u)
    return state, sine * cos_azimuth, sine * sin_azimuth, sign * math.sqrt(u)
