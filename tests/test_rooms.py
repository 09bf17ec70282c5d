"""The order of the rooms, over the whole import tree."""

import subprocess
import sys
from graphlib import TopologicalSorter

import grimp
import pytest

ROOMS = (
    *("bench", "app", "report", "book", "files", "tracing", "costs", "laser", "referee", "planning"),
    *("engine", "workers", "leather", "geometry", "model", "atomic", "errors"),
)
"""Each may import from those after it only."""
ENTRANCES = {"nesting", "nesting.__main__"}


@pytest.fixture(scope="module")
def graph():
    return grimp.build_graph("nesting", exclude_type_checking_imports=False, cache_dir=None)


def test_every_module_stands_in_a_room(graph):
    rooms = {f"nesting.{room}" for room in ROOMS}
    assert graph.find_children("nesting") | {"nesting"} == rooms | ENTRANCES


def test_no_room_imports_from_one_above_it(graph):
    layers = [f"nesting.{room}" for room in ROOMS]
    assert not graph.find_illegal_dependencies_for_layers(layers)


def test_no_module_imports_itself_by_way_of_others(graph):
    imports = {module: graph.find_modules_directly_imported_by(module) for module in graph.modules}
    assert len(list(TopologicalSorter(imports).static_order())) == len(graph.modules)


@pytest.mark.parametrize("other", [room for room in ROOMS if room not in ("engine", "workers")])
def test_the_engine_imports_no_room_but_workers(graph, other):
    assert not graph.chain_exists("nesting.engine", f"nesting.{other}", as_packages=True)


@pytest.mark.parametrize("other", ["planning", "engine", "workers", "leather.regions", "leather.knife"])
def test_nothing_the_referee_imports_leads_to_what_it_judges(graph, other):
    assert graph.chain_exists("nesting.referee", "nesting.leather.thickness", as_packages=True)
    assert not graph.chain_exists("nesting.referee", f"nesting.{other}", as_packages=True)


def test_the_referee_has_polygon_tools_of_its_own(graph):
    modules = graph.find_descendants("nesting.referee")
    assert not any("nesting.geometry" in graph.find_modules_directly_imported_by(module) for module in modules)


def test_the_referee_loads_neither_the_packer_nor_the_planner():
    rooms = ("engine", "planning", "workers", "leather.regions", "leather.knife")
    code = f"import sys, nesting.referee.rules; print([room for room in {rooms} if f'nesting.{{room}}' in sys.modules])"
    assert subprocess.run([sys.executable, "-c", code], capture_output=True, text=True).stdout.strip() == "[]"
