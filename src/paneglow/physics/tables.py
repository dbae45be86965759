"""Tables of the CIE as colour-science holds them, kept between runs: loading that library takes longer than using them.

What is kept lies in the user's folder for such things, named after the library's version; what cannot be read or is no
such table is read from the library again, and nothing is lost where the folder cannot be written.
"""

import io
import os
from contextlib import suppress
from functools import lru_cache
from importlib.metadata import version
from pathlib import Path
from typing import NamedTuple
from zipfile import BadZipFile

import numpy as np
import numpy.typing as npt

from paneglow.errors import OutputError
from paneglow.writing import write_together

FloatArray = npt.NDArray[np.float64]

OBSERVER, DAYLIGHT = "CIE 1931 2 Degree Standard Observer", "D65"
# What the tables must hold, whoever wrote the file: V(lambda) sums to 106.857 nm and is 1 at 555 nm, D65 is 100 at 560
# nm (CIE 015:2018, as in colour-science 0.4.7)
V_SUM_NM, V_SLACK = 106.857, 1e-3


class CieTables(NamedTuple):
    """Colour-matching functions and daylight."""

    observer_nm: FloatArray  # Wavelengths of the observer, 1 nm apart, shape (w,)
    observer_xyz: FloatArray  # x-bar, y-bar, z-bar [1], shape (w, 3)
    daylight_nm: FloatArray  # Wavelengths of D65, 5 nm apart, shape (d,)
    daylight: FloatArray  # Relative spectral power of D65, 100 at 560 nm [1], shape (d,)

    def are_whole(self) -> bool:
        """Whether they have the shapes and the sums of the published ones."""
        n, d = self.observer_nm.size, self.daylight_nm.size
        if self.observer_xyz.shape != (n, 3) or self.daylight.shape != (d,) or n != 471 or d != 97:
            return False
        peak = self.observer_xyz[self.observer_nm == 555.0, 1]
        power = self.daylight[self.daylight_nm == 560.0]
        return bool(
            abs(self.observer_xyz[:, 1].sum() - V_SUM_NM) < V_SLACK and np.all(peak == 1.0) and np.all(power == 100.0)
        )


@lru_cache(maxsize=1)
def cie_tables() -> CieTables:
    """CIE 1931 2-degree observer and illuminant D65.

    Returns
    -------
    CieTables

    References
    ----------
    CIE 015:2018, *Colorimetry*, 4th ed.; tables as in colour-science.
    """
    # An account without a home keeps them nowhere: this is no path of its own
    folder = Path(os.environ.get("XDG_CACHE_HOME") or os.path.expanduser("~/.cache")) / "paneglow"  # noqa: PTH111
    name = f"cie-tables-{version('colour-science')}.npz"
    with suppress(OSError, ValueError, KeyError, EOFError, BadZipFile):
        kept = np.load(io.BytesIO((folder / name).read_bytes()), allow_pickle=False)
        tables = CieTables(*(kept[field] for field in CieTables._fields))
        if tables.are_whole():
            return tables
    tables = _read_library()
    content = io.BytesIO()
    np.savez(content, **tables._asdict())
    with suppress(OutputError):
        write_together(folder, contents={name: content.getvalue()})
    return tables


def _read_library() -> CieTables:
    import colour  # noqa: PLC0415  slow to import

    observer, daylight = colour.MSDS_CMFS[OBSERVER], colour.SDS_ILLUMINANTS[DAYLIGHT]
    daylight_nm = np.arange(300.0, 781.0, 5.0)
    return CieTables(
        observer_nm=np.asarray(observer.wavelengths, dtype=np.float64),
        observer_xyz=np.asarray(observer.values, dtype=np.float64),
        daylight_nm=daylight_nm,
        daylight=np.asarray([daylight[nm] for nm in daylight_nm], dtype=np.float64),
    )
