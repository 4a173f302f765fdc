"""A folder imports only from lower floors, and folders of one floor are strangers."""

import ast
import graphlib
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parent.parent / "terrain"
FLOORS = {
    "base": 1, "survey": 2, "surface": 3, "pit": 4, "lot": 4, "ledger": 5, "asdug": 6, "haul": 6,
    "billing": 7, "job": 8, "report": 9, "export": 9, "cli": 10,
}  # fmt: skip
MODULES = sorted(p for p in PACKAGE.rglob("*.py") if p.parent != PACKAGE)


def imported_folders(module: Path) -> set[str]:
    """The folders of ours that a module imports from, wherever in it the import stands."""
    names = set()
    for node in ast.walk(ast.parse(module.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module:
            names.add(node.module)
        elif isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
    return {n.split(".")[1] for n in names if n.startswith("terrain.")}


def test_every_folder_has_a_floor():
    assert {p.relative_to(PACKAGE).parts[0] for p in MODULES} <= set(FLOORS)


@pytest.mark.parametrize("module", MODULES, ids=lambda p: str(p.relative_to(PACKAGE)))
def test_a_module_imports_only_downwards(module):
    own = module.relative_to(PACKAGE).parts[0]
    for other in imported_folders(module) - {own}:
        assert FLOORS[other] < FLOORS[own], f"{own} (floor {FLOORS[own]}) imports {other}"


def test_no_module_imports_the_package_root():
    for module in MODULES:
        for node in ast.walk(ast.parse(module.read_text(encoding="utf-8"))):
            assert not (isinstance(node, ast.ImportFrom) and node.module == "terrain"), module


def test_no_module_below_the_commands_comes_back_to_itself_by_way_of_others():
    """A command may start the others, as a batch does; nothing under them goes round."""
    below = {
        ".".join(p.relative_to(PACKAGE.parent).with_suffix("").parts): p
        for p in MODULES
        if p.relative_to(PACKAGE).parts[0] != "cli"
    }
    graph: dict[str, set[str]] = {}
    for name, module in below.items():
        nodes = list(ast.walk(ast.parse(module.read_text(encoding="utf-8"))))
        froms = [node for node in nodes if isinstance(node, ast.ImportFrom) and node.module]
        named = {node.module for node in froms}
        named |= {f"{node.module}.{alias.name}" for node in froms for alias in node.names}
        named |= {a.name for node in nodes if isinstance(node, ast.Import) for a in node.names}
        graph[name] = named & below.keys()
    assert sum(map(len, graph.values())) > len(below)
    graphlib.TopologicalSorter(graph).prepare()
