"""Compiled functions, of which only what Python calls becomes machine code of its own.

Numba makes machine code of every function, then optimises a called function's code again inside each of its callers: a function
six calls deep is compiled seven times. Here a function that a compiled one calls is translated once and stays unoptimised
until a function that Python called is compiled with all that it calls.
"""

from __future__ import annotations

import gc
from collections.abc import Callable
from typing import Any

from numba.core.caching import FunctionCache
from numba.core.codegen import JITCodeLibrary
from numba.core.compiler_machinery import register_pass
from numba.core.dispatcher import Dispatcher
from numba.core.registry import CPUDispatcher
from numba.core.typed_passes import NativeLowering

from sweep.model.precision import Compiler


class _Part(JITCodeLibrary):
    """The translated code of a function and of all that it calls, not optimised and not machine code."""

    def add_linking_library(self, library: Any) -> None:
        """Take in a called function's code when this one is finalised."""
        self._linking_libraries.append(library)

    def finalize(self) -> None:
        """Link in the code of the called functions; nothing can be added afterwards."""
        for library in dict.fromkeys(self._linking_libraries):
            if hasattr(self, "_reload_init"):  # which older Numba has not
                self._reload_init.update(library._reload_init)
            self._final_module.link_in(library._get_module_for_linking(), preserve=True)
        self._finalized = True


@register_pass(mutates_CFG=True, analysis_only=False)  # type: ignore[no-untyped-call]
class _Translate(NativeLowering):
    """Numba's lowering without machine code."""

    _name = "translate"

    def run_pass(self, state: Any) -> bool:
        state.library = _Part(state.targetctx.codegen(), state.func_id.func_qualname)  # type: ignore[no-untyped-call]
        super().run_pass(state)  # type: ignore[no-untyped-call]
        lowered = state["cr"]
        key = object()  # by which callers find this function
        state.targetctx.insert_user_function(key, lowered.fndesc, [state.library])
        state["cr"] = lowered._replace(cfunc=key)
        return True


class _Translator(Compiler):
    """The compiler of functions that only compiled ones call."""

    def define_pipelines(self) -> list[Any]:
        """Translate instead of lowering to machine code."""
        self.state.flags.no_compile = True
        (passes,) = super().define_pipelines()
        passes.passes = [(_Translate, text) if each is NativeLowering else (each, text) for each, text in passes.passes]
        passes.finalize()
        return [passes]


class _Called(CPUDispatcher):
    """A function as compiled functions call it."""

    def add_overload(self, cres: Any) -> None:
        """Note a translation, which Python cannot call."""
        self.overloads[tuple(cres.signature.args)] = cres


class Function(CPUDispatcher):
    """A function as Python calls it; for compiled functions it has another one."""

    def __init__(self, function: Callable[..., Any], options: dict[str, Any]) -> None:
        super().__init__(function, targetoptions=options, pipeline_class=Compiler)
        self._called: Dispatcher = _Called(
            function, targetoptions=options | {"no_cpython_wrapper": True}, pipeline_class=_Translator
        )

    def _compile_for_args(self, *args: Any, **kws: Any) -> Any:
        """Compile at the first call. Meanwhile nothing is collected: compilers keep nearly all that they make."""
        collects = gc.isenabled()
        gc.disable()
        try:
            return super()._compile_for_args(*args, **kws)  # type: ignore[misc]
        finally:
            if collects:
                gc.enable()

    def keep(self, stored: FunctionCache) -> None:
        """Load and store its machine code there."""
        self._cache = stored

    def get_call_template(self, args: Any, kws: Any) -> Any:
        """How a compiled function calls this one."""
        return self._called.get_call_template(args, kws)

    def get_overload(self, sig: Any) -> Any:
        """The key under which the translation for these argument types was noted."""
        return self._called.get_overload(sig)
