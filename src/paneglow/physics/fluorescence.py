"""Light that a laminate takes up and gives back at longer wavelengths."""

import numpy as np
import numpy.typing as npt

from paneglow.checks import check_between

FloatArray = npt.NDArray[np.float64]


def shifted_shares(
    *,
    absorbed_nm: npt.ArrayLike,
    power_frac: npt.ArrayLike,
    emitted_nm: npt.ArrayLike,
    yield_frac: float,
    excited_below_nm: float,
) -> FloatArray:
    """Radiant share that comes back at each emission node, per unit weight absorbed at each node.

    Parameters
    ----------
    absorbed_nm : array_like, shape (k,)
        Nodes of the light that is absorbed [nm].
    power_frac : array_like, shape (k,)
        Radiant power that unit weight stands for at each of them, over that of the whole spectrum [1].
    emitted_nm : array_like, shape (m,)
        Nodes of the light that is given back [nm], which stand for one spectrum together and so weigh alike.
    yield_frac : float
        Photons given back per photon absorbed below the limit [1], 0 to 1.
    excited_below_nm : float
        Longer waves excite nothing [nm].

    Returns
    -------
    ndarray, shape (k, m)
        A photon of the shorter wave gives at most one of the longer: the share holds the ratio of wavelengths.
    """
    check_between("yield_frac", yield_frac, lower=0.0, upper=1.0)
    absorbed = np.asarray(absorbed_nm, dtype=np.float64)
    emitted = np.asarray(emitted_nm, dtype=np.float64)
    excites = np.where(absorbed < excited_below_nm, np.asarray(power_frac, dtype=np.float64), 0.0)
    shift = absorbed / max(1.0, float(emitted.mean()))
    column = yield_frac * excites * np.minimum(shift, 1.0)
    return np.repeat(column[:, None], emitted.size, axis=1)
