"""One source of the kernels for two precisions: literals take the precision of the function's first floating-point argument.

Numba compiles a literal as a double, and an operation with one double gives a double. If the first floating-point argument, an
array or a number, is in single precision, the function's literals and the constants that it reads by name are compiled in
single precision too. NumPy treats Python numbers by the same rule, so that interpreted code gives the same types. A constant
of type `np.float64` stays a double.
"""

from __future__ import annotations

from collections.abc import Iterable
from types import ModuleType
from typing import Any

import numpy as np
from numba import types
from numba.core import ir
from numba.core.compiler import CompilerBase, DefaultPassBuilder
from numba.core.compiler_machinery import FunctionPass, register_pass
from numba.core.untyped_passes import IRProcessing

from sweep.model.folding import FoldConstants


def first_floating(arguments: Iterable[Any]) -> Any:
    """The type of the first floating-point argument, be it a number, an array or in a tuple; None if there is none."""
    for argument in arguments:
        several = isinstance(argument, types.BaseTuple)
        inner = first_floating(argument) if several else getattr(argument, "dtype", argument)
        if isinstance(inner, types.Float):
            return inner
    return None


def narrowed(value: Any) -> Any:
    """A constant with its floats converted to single precision."""
    if type(value) is float:
        return np.float32(value)
    if type(value) is tuple:
        return tuple(narrowed(each) for each in value)
    return value


@register_pass(mutates_CFG=False, analysis_only=False)  # type: ignore[no-untyped-call]
class _NarrowLiterals(FunctionPass):
    """Narrows the literals of a function that is compiled for single precision."""

    _name = "narrow_literals"

    def __init__(self) -> None:
        super().__init__()  # type: ignore[no-untyped-call]

    def run_pass(self, state: Any) -> bool:
        if first_floating(state.args) != types.float32:
            return False
        for block in state.func_ir.blocks.values():
            for assignment in block.find_insts(ir.Assign):
                value = assignment.value
                if isinstance(value, ir.Const | ir.Global | ir.FreeVar):
                    value.value = narrowed(value.value)
                elif isinstance(value, ir.Expr) and value.op == "getattr":
                    _narrow_attribute(state.func_ir, assignment)
        return True


def _narrow_attribute(function: Any, assignment: Any) -> None:
    """Replace a float that a function reads from a module, such as `math.pi`, by its value in single precision."""
    try:
        module = function.get_definition(assignment.value.value)
    except KeyError:
        return
    if isinstance(module, ir.Global | ir.FreeVar) and isinstance(module.value, ModuleType):
        value = getattr(module.value, assignment.value.attr, None)
        if type(value) is float:
            assignment.value = ir.Const(np.float32(value), assignment.loc)  # type: ignore[no-untyped-call]


class Compiler(CompilerBase):
    """Numba's own passes, and between them the folding of constants and the narrowing of literals."""

    def define_pipelines(self) -> list[Any]:
        """Run both after the function's code is read and before its types are inferred."""
        passes = DefaultPassBuilder.define_nopython_pipeline(self.state)  # type: ignore[no-untyped-call]
        passes.add_pass_after(_NarrowLiterals, IRProcessing)
        passes.add_pass_after(FoldConstants, IRProcessing)
        passes.finalize()
        return [passes]
