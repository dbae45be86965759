"""Which device photons are traced on."""

from importlib import import_module
from importlib.util import find_spec
from typing import Any, Literal

from paneglow.errors import MissingExtraError

TracingDevice = Literal["cpu", "cuda"]
EXTRA = "paneglow[gpu]"


def choose_device(wanted: Literal["auto", "cpu", "cuda"]) -> TracingDevice:
    """Device to trace on.

    "auto" is the CPU for now: the loop for several versions and wavelengths takes minutes to compile on a GPU's first
    use, longer than most traces take here (docs/speed.md).

    Raises
    ------
    MissingExtraError
        If a GPU is asked for and cannot be used.
    """
    if wanted != "cuda":
        return "cpu"
    obstacle = find_obstacle()
    if obstacle is not None:
        raise MissingExtraError(f"device cuda cannot be used: {obstacle}; use --device cpu or leave it out")
    return "cuda"


def find_obstacle() -> str | None:
    """What stands in the way of tracing on a GPU, in a few words; None for nothing."""
    if find_spec("numba_cuda") is None:
        return f"numba-cuda is not installed (pip install '{EXTRA}')"
    # Looks for the driver, so only where a GPU is thought of
    cuda: Any = import_module("numba.cuda")
    if not cuda.is_available():
        return "no NVIDIA GPU with its driver and compiler was found"
    try:
        cuda.current_context()
    except (cuda.CudaSupportError, cuda.cudadrv.driver.CudaAPIError) as error:
        return f"the NVIDIA GPU does not answer ({error})"
    return None
