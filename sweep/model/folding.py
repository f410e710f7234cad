"""Slots are worked out before numba infers types: to each one left in the code it would give many steps of compiling."""

from __future__ import annotations

from collections import Counter
from types import ModuleType
from typing import Any

import numpy as np
from numba.core import ir
from numba.core.compiler_machinery import FunctionPass, register_pass
from numba.core.ir_utils import build_definitions


@register_pass(mutates_CFG=False, analysis_only=False)  # type: ignore[no-untyped-call]
class FoldConstants(FunctionPass):
    """Replaces whole numbers that a function reads from modules, and functions that `fold` of them, by their values."""

    _name = "fold_constants"

    def __init__(self) -> None:
        super().__init__()  # type: ignore[no-untyped-call]

    def run_pass(self, state: Any) -> bool:
        """Fold in every block, then remove what nothing reads any more."""
        blocks = state.func_ir.blocks
        assigned = Counter(each.target.name for block in blocks.values() for each in block.find_insts(ir.Assign))
        known: dict[str, Any] = {}
        for block in blocks.values():
            for assignment in block.find_insts(ir.Assign):
                if assigned[assignment.target.name] == 1:
                    _fold(assignment, known)
        _remove_unused(blocks, known)
        state.func_ir._definitions = build_definitions(blocks)  # type: ignore[no-untyped-call]
        return True


def _fold(assignment: Any, known: dict[str, Any]) -> None:
    """Note the value of an assignment if it is known; put a whole number in the place of its expression."""
    value = assignment.value
    if isinstance(value, ir.Global | ir.FreeVar | ir.Const):
        known[assignment.target.name] = value.value
    elif isinstance(value, ir.Expr):
        found = _value_of(value, known)
        if type(found) is int:  # of NumPy's type: Python's own would have a called function compiled for this number alone
            assignment.value = ir.Const(np.int64(found), assignment.loc)  # type: ignore[no-untyped-call]
        if found is not None:
            known[assignment.target.name] = found


def _value_of(expression: Any, known: dict[str, Any]) -> Any:
    """The value of an expression, or None."""
    if expression.op == "getattr" and isinstance(known.get(expression.value.name), ModuleType):
        return getattr(known[expression.value.name], expression.attr, None)
    if expression.op == "binop":
        operands = [known.get(each.name) for each in (expression.lhs, expression.rhs)]
        return expression.fn(*operands) if all(type(each) is int for each in operands) else None
    if expression.op == "call" and getattr(known.get(expression.func.name), "folds", False):
        arguments = [known.get(each.name) for each in expression.args]
        return known[expression.func.name].py_func(*arguments) if all(type(each) is int for each in arguments) else None
    return None


def _remove_unused(blocks: dict[int, Any], known: dict[str, Any]) -> None:
    """Remove assignments of known values that nothing reads any more."""
    statements = [each for block in blocks.values() for each in block.body]
    uses = Counter(each.name for statement in statements for each in statement.list_vars())
    for block in reversed(blocks.values()):
        kept = []
        for statement in reversed(block.body):
            target = statement.target.name if isinstance(statement, ir.Assign) else ""
            if target.startswith("$") and target in known and uses[target] == 1:
                uses.subtract(each.name for each in statement.list_vars())
            else:
                kept.append(statement)
        block.body[:] = kept[::-1]
