"""Kernels in single precision: the same functions, for a device that is fast at it.

A float written in a kernel is double, and one double makes all that it meets double. So a kernel is ported, not just
compiled again: its floats, those of the globals that it names, `float` and `math` become single precision, whole
numbers take 32 bits, and so do the kernels that it calls. What a device does in its own way replaces that kernel.
"""

import math
import types
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numba.core.dispatcher import Dispatcher

Function = Callable[..., Any]
FEWER = 1 << 31  # what 32 bits hold
BUILTINS: dict[str, Any] = {"float": np.float32, "int": np.int32}


@dataclass(frozen=True, slots=True, kw_only=True)
class SinglePrecision:
    """Single precision on one device.

    Attributes
    ----------
    compiled : callable
        Compiles a function for the device, given whether it must be inlined where it is called.
    own : mapping of Dispatcher to callable
        Kernels that the device does in its own way, and by what.
    mathematics : module
        Takes the place of `math`.
    """

    compiled: Callable[[Function, bool], Any]
    own: Mapping[Dispatcher, Any]
    mathematics: types.ModuleType
    _ported: dict[Dispatcher, Any] = field(default_factory=dict)

    def ported(self, kernel: Dispatcher) -> Any:
        """A kernel, as `kernels.compile` makes them, compiled for this device."""
        if kernel in self.own:
            return self.own[kernel]
        if kernel not in self._ported:
            inlined = bool(kernel.targetoptions.get("forceinline"))
            self._ported[kernel] = self.compiled(self._single(kernel.py_func), inlined)
        return self._ported[kernel]

    def _single(self, function: Function) -> Function:
        """The same code over constants and globals in single precision."""
        code = function.__code__
        named = {name: function.__globals__[name] for name in code.co_names if name in function.__globals__}
        scope = BUILTINS | {name: self._translated(value) for name, value in named.items()}
        consts = tuple(np.float32(const) if isinstance(const, float) else const for const in code.co_consts)
        return types.FunctionType(code.replace(co_consts=consts), scope, function.__name__)

    def _translated(self, value: Any) -> Any:
        if isinstance(value, float):
            return np.float32(value)
        if type(value) is int and abs(value) < FEWER:
            return np.int32(value)
        if isinstance(value, Dispatcher):
            return self.ported(value)
        return self.mathematics if value is math else value


def build_mathematics(**functions: Any) -> types.ModuleType:
    """A module to stand for `math`: constants in single precision, and functions of the device."""
    module = types.ModuleType("single_precision_mathematics")
    module.__dict__.update(pi=np.float32(math.pi), inf=np.float32(math.inf), **functions)
    return module
