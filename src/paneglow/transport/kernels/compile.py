"""How kernels are compiled, in one place.

Infinities are used on purpose, so the flags that assume them away stay off; the rest lets the compiler contract and
reorder sums. Results stay the same from run to run on one machine and do not depend on the thread count.
"""

from pathlib import Path
from typing import Any

from numba import njit

from paneglow.transport.kernels.fresh import drop_stale_kernels

drop_stale_kernels(Path(__file__).parent)

# nogil: batches run in ordinary threads, so no parallel compiler and no thread layer is involved.
# _nrt off: kernels allocate nothing, and counting references to the arrays they pass around took three quarters of
# the time when the flag was chosen.
_FLAGS: dict[str, Any] = {
    "cache": True,
    "error_model": "numpy",
    "fastmath": {"contract", "reassoc", "nsz", "arcp", "afn"},
    "nogil": True,
    "_nrt": False,
}

kernel = njit(**_FLAGS)
# For kernels that only kernels call: no doorway from Python, which would take longer to compile than the kernel
_INNER: dict[str, Any] = {**_FLAGS, "no_cpython_wrapper": True, "no_cfunc_wrapper": True}
inner_kernel = njit(**_INNER)
# For the few steps of every collision: a call that hands over all inputs would cost more than the step
hot_kernel = njit(**_INNER, forceinline=True)
