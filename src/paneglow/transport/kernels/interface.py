"""Smooth faces: reflectance, refraction, diffuse directions."""

import math

from paneglow.transport.kernels.compile import kernel
from paneglow.transport.kernels.random import next_uniform


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
def sample_unit_disc(state):
    """Point on the unit circle without trigonometry: accept points of the square that fall inside the disc."""
    while True:
        state, u_a = next_uniform(state)
        state, u_b = next_uniform(state)
        a = 2.0 * u_a - 1.0
        b = 2.0 * u_b - 1.0
        r2 = a * a + b * b
        if 1e-12 < r2 < 1.0:
            scale = 1.0 / math.sqrt(r2)
            return state, a * scale, b * scale


@kernel
def sample_lambertian(state, sign):
    """Direction of a Lambertian face whose normal is +z (sign 1) or -z (sign -1)."""
    state, u = next_uniform(state)
    state, cos_azimuth, sin_azimuth = sample_unit_disc(state)
    sine = math.sqrt(1.0 - u)
    return state, sine * cos_azimuth, sine * sin_azimuth, sign * math.sqrt(u)
