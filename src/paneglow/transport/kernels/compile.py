"""How kernels are compiled, in one place: what Python calls is one program, optimised as a whole.

The compiler would by itself optimise and translate every kernel together with all that it calls, level by level: the
lowest kernels a dozen times over. Here a kernel is only lowered; an entry gathers all kernels below it, makes them
private to itself and is optimised once. So unused arguments vanish and rare physics stays out of line; and no kernel
stands in a process twice, so that the run that compiles an entry rounds as later runs that load it do.

Infinities are used on purpose, so the flags that assume them away stay off; the rest lets the compiler contract and
reorder sums. Results stay the same from run to run on one machine and do not depend on the thread count.
"""

from collections.abc import Callable
from pathlib import Path
from typing import Any

from numba import njit, types
from numba.core.codegen import JITCodeLibrary
from numba.core.compiler import Compiler

from paneglow.transport.kernels.fresh import drop_stale_kernels

drop_stale_kernels(Path(__file__).parent)


class _Whole(JITCodeLibrary):
    """Code of an entry: itself and, private to it, every kernel that it needs."""

    def add_linking_library(self, library: Any) -> None:
        self._linking_libraries.append(library)

    def finalize(self) -> None:
        self._raise_if_finalized()
        public = [function.name for function in self._final_module.functions if not function.is_declaration]
        _link_all_below(self, self._final_module)
        for number, function in enumerate(self._final_module.functions):
            if not function.is_declaration and function.name not in public:
                # Under a name of its own: the loader looks for a name in whatever was loaded before, private or not
                function.linkage = "internal"
                function.name = f"{public[0]}.{number}"
        self._optimize_final_module()
        self._final_module.verify()
        self._finalize_final_module()


class _Part(JITCodeLibrary):
    """Code of a kernel, lowered only: it has no machine code of its own."""

    def add_linking_library(self, library: Any) -> None:
        self._linking_libraries.append(library)

    def finalize(self) -> None:
        self._raise_if_finalized()
        self._finalized = True

    def get_pointer_to_function(self, name: str) -> int:  # noqa: ARG002
        return 0

    def _get_module_for_linking(self) -> Any:
        """What code that is no entry of ours needs to call this kernel."""
        module = self._final_module.clone()
        _link_all_below(self, module)
        for function in module.functions:
            if not function.is_declaration:
                function.linkage = "linkonce_odr"
        return module

    @property
    def codegen(self) -> Any:
        return _NoEnvironment


class _NoEnvironment:
    """Takes the place of what tells machine code where its Python environment is."""

    @staticmethod
    def set_env(*_: object) -> None:
        """Do nothing: there is no machine code yet."""


def _link_all_below(code: Any, module: Any) -> None:
    """Bring into a module all that some code calls, each once."""
    found: dict[Any, None] = {}
    waiting = [code]
    while waiting:
        for called in waiting.pop()._linking_libraries:
            if called not in found:
                found[called] = None
                if isinstance(called, _Part):
                    waiting.append(called)
    for called in found:
        is_part = isinstance(called, _Part)
        module.link_in(called._final_module.clone() if is_part else called._get_module_for_linking(), preserve=True)
        code._reload_init.update(called._reload_init)


def _pipeline(code: type[JITCodeLibrary]) -> type[Compiler]:
    class Pipeline(Compiler):
        def compile_extra(self, function: Callable[..., Any]) -> Any:
            self.state.library = code(self.state.targetctx.codegen(), function.__qualname__)
            self.state.library.enable_object_caching()
            return super().compile_extra(function)

    return Pipeline


# nogil: batches run in ordinary threads, so no parallel compiler and no thread layer is involved.
# _nrt off: kernels allocate nothing, and counting references to the arrays they pass around took three quarters of
# the time when the flag was chosen.
_FLAGS: dict[str, Any] = {
    "error_model": "numpy",
    "fastmath": {"contract", "reassoc", "nsz", "arcp", "afn"},
    "nogil": True,
    "_nrt": False,
}
_PART: dict[str, Any] = {
    **_FLAGS,
    "pipeline_class": _pipeline(_Part),
    "no_cpython_wrapper": True,
    "no_cfunc_wrapper": True,
}

_WHOLE: dict[str, Any] = {**_FLAGS, "pipeline_class": _pipeline(_Whole), "no_cfunc_wrapper": True}

# What Python calls; kept compiled on disk
entry = njit(**_WHOLE, cache=True)


def kernel(function: Callable[..., Any]) -> Any:
    """Make a function callable by kernels and entries."""
    return _part(function, njit(**_PART)(function))


def hot_kernel(function: Callable[..., Any]) -> Any:
    """Make a kernel of the few steps of every collision, put where it is called."""
    return _part(function, njit(**_PART, forceinline=True)(function))


def _part(function: Callable[..., Any], dispatcher: Any) -> Any:
    compiled = dispatcher.compile
    # One kernel for all numbers of a type: by itself the compiler makes one for each constant that a caller writes
    dispatcher.compile = lambda kinds: compiled(tuple(map(types.unliteral, kinds)))
    whole = njit(**_WHOLE)(function)
    # Tests call kernels too: Python finds no machine code here and asks for some, which is then an entry
    dispatcher._insert = lambda *_: None
    dispatcher._compile_for_args = lambda *_, **__: whole
    return dispatcher
