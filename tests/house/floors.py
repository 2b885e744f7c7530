"""The floors of the house, read from the source: who may import whom, and what must not be done where.

`faults(path, source)` looks at one file and names every break of a rule, so that the check itself can be tried
on planted ones. docs/adr/0001-floors.md says why the rules are what they are.
"""

import ast
import sys
from collections.abc import Iterator
from pathlib import PurePosixPath

#: Imports point down only; apps of one height do not import each other.
APPS = {"units": 0, "projects": 1, "budget": 2, "schedule": 2, "decisions": 3, "reports": 4}
LAYERS = {
    "calc": 0,
    "models": 1,
    "selectors": 2,
    "services": 2,
    "forms": 3,
    "views": 3,
    "urls": 3,
    "admin": 3,
    "templatetags": 3,
    "management": 3,
}
PURE_BARRED = {"random", "time", "os", "io", "pathlib", "socket", "subprocess", "secrets", "urllib", "http", "tempfile"}
PURE_CALLS = {"open", "print", "input", "exec", "eval"}
CLOCK = {"now", "today", "utcnow", "localtime", "localdate"}
WRITES = {"save", "bulk_create", "bulk_update", "get_or_create", "update_or_create", "delete"}
SUMS = (ast.Sub, ast.Mult, ast.Div, ast.FloorDiv, ast.Pow)


def app_of(path: str) -> str:
    return PurePosixPath(path).parts[0]


def layer_of(parts: tuple[str, ...]) -> str:
    """The layer a path or dotted name belongs to: its first part that is one, or ""."""
    return next((part for part in parts[1:] if part in LAYERS), "")


def imported(tree: ast.AST) -> Iterator[tuple[int, str]]:
    """Every module that is imported, wherever in the file, as (line, dotted name)."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from ((node.lineno, alias.name) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            yield node.lineno, "." * node.level + (node.module or "")
            yield from ((node.lineno, f"{node.module}.{alias.name}") for alias in node.names if not node.level)


def import_fault(path: str, name: str) -> str | None:
    """What is wrong with importing `name` in `path`, or None."""
    here, layer = app_of(path), layer_of(PurePosixPath(path).with_suffix("").parts)
    parts = tuple(name.split("."))
    if name.startswith("."):
        return "imports are absolute"
    if parts[0] in {"config", "tests"}:
        return f"an app does not import {parts[0]}"
    if here == "units" or layer == "calc":
        return _pure_import_fault(here, parts)
    if parts[0] not in APPS:
        return None
    if parts[0] != here:
        higher = APPS[parts[0]] >= APPS[here]
        return f"{here} imports {parts[0]}, which is not below it" if higher else None
    there = layer_of(parts)
    if layer and there and LAYERS[there] > LAYERS[layer]:
        return f"{layer} imports {there}, which is above it"
    return None


def _pure_import_fault(here: str, parts: tuple[str, ...]) -> str | None:
    """Calculations see the standard library, units, and calculations of their own app or a lower one."""
    top = parts[0]
    if top in APPS:
        below = top == "units" or (
            here != "units" and len(parts) > 1 and parts[1] == "calc" and APPS[top] <= APPS[here]
        )
        return None if below else f"a calculation imports {'.'.join(parts)}"
    if top in PURE_BARRED:
        return f"a calculation imports {top}"
    known = top in sys.stdlib_module_names or (here != "units" and top in {"numpy", "holidays"})
    return None if known else f"a calculation imports {top}, which is not the standard library"


def called(node: ast.AST) -> str:
    """The dotted name of what a call calls, as far as it is written out."""
    if isinstance(node, ast.Attribute):
        return f"{called(node.value)}.{node.attr}"
    if isinstance(node, ast.Call):
        return called(node.func)
    return node.id if isinstance(node, ast.Name) else ""


def call_fault(layer: str, name: str) -> str | None:
    """What is wrong with calling `name` in a layer, or None."""
    last = name.rpartition(".")[2]
    if layer == "calc" and name in PURE_CALLS:
        return f"a calculation calls {name}()"
    if layer in {"calc", "models", "selectors", "services"} and "." in name and last in CLOCK:
        return f"{layer} reads the clock: {name}()"
    if layer in {"views", "urls"} and last in WRITES:
        return f"{layer} writes: {name}()"
    return None


def node_fault(layer: str, node: ast.AST) -> str | None:
    """What is wrong with one piece of code in a layer, or None."""
    if isinstance(node, ast.Call):
        return call_fault(layer, called(node.func))
    if layer == "views" and isinstance(node, ast.BinOp) and isinstance(node.op, SUMS):
        return "views do no arithmetic"
    if layer == "views" and isinstance(node, ast.Attribute) and node.attr == "objects":
        return "views read through selectors"
    if layer in {"selectors", "services"} and isinstance(node, ast.arg) and node.arg == "request":
        return f"{layer} know no request"
    if layer == "models" and isinstance(node, ast.Attribute) and node.attr in {"FloatField", "DecimalField"}:
        return "money is whole minor units and other figures are ExactField"
    return None


def faults(path: str, source: str) -> list[str]:
    """Every break of a rule in one file, as "path:line: what"."""
    tree = ast.parse(source)
    parts = PurePosixPath(path).with_suffix("").parts
    layer = "calc" if parts[0] == "units" else layer_of(parts)
    found = [(line, fault) for line, name in imported(tree) if (fault := import_fault(path, name))]
    found += [(getattr(node, "lineno", 0), fault) for node in ast.walk(tree) if (fault := node_fault(layer, node))]
    return [f"{path}:{line}: {fault}" for line, fault in sorted(set(found))]
