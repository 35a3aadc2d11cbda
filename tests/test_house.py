"""The house: every module in a room, imports one way between rooms, no circles.

Imports inside functions and under TYPE_CHECKING count. Inside a room a result may know its own
words (text, page, document, frames), which know the result.
"""

from __future__ import annotations

import ast
import re
from collections import defaultdict
from collections.abc import Iterator, Mapping
from functools import cache
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[1] / "pointmodel"
ROOMS = sorted(path.parent.name for path in PACKAGE.glob("*/__init__.py"))
OUTSIDE_ROOMS = {"__main__", "cli"}
OWN_WORDS = {
    "text",
    "page",
    "sheet",
    "document",
    "words",
    "frames",
    "files",
    "saved",
    "lmfitmodel",
    "pictures",
    "breakdown",
    "pairtable",
    "card",
    "plotting",
}
MOST_ROOMS, MOST_ARROWS, MOST_FLOORS = 22, 125, 13

Graph = Mapping[str, set[str]]


@cache
def imports() -> dict[str, set[str]]:
    """The modules of the package, each with those that it imports, by dotted name."""
    files = {_dotted(path): path for path in sorted(PACKAGE.rglob("*.py"))}
    return {name: set(_imported(path, files)) - {name} for name, path in files.items()}


def _dotted(path: Path) -> str:
    parts = path.relative_to(PACKAGE.parent).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


@cache
def walked() -> dict[Path, list[ast.AST]]:
    """Every module with every node of it, each read once."""
    paths = sorted(PACKAGE.rglob("*.py"))
    return {path: list(ast.walk(ast.parse(path.read_text(encoding="utf-8")))) for path in paths}


def _imported(path: Path, files: Mapping[str, Path]) -> Iterator[str]:
    for node in walked()[path]:
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names if alias.name in files)
        elif isinstance(node, ast.ImportFrom) and node.module in files:
            for alias in node.names:
                whole = f"{node.module}.{alias.name}"
                yield whole if whole in files else str(node.module)


def room(name: str) -> str:
    """The room that a module stands in; its own name for what stands outside."""
    return name.split(".")[1] if "." in name else name


def between_rooms() -> Graph:
    """Rooms with the rooms that they import from."""
    graph: dict[str, set[str]] = defaultdict(set)
    for name, others in imports().items():
        if "." not in name or room(name) in OUTSIDE_ROOMS:
            continue
        graph[room(name)] |= {room(other) for other in others if "." in other} - {room(name)}
    return graph


def inside(name: str) -> Graph:
    """Modules of one room with those that they import, a result's own words left out."""
    graph = {}
    for module, others in imports().items():
        if room(module) == name:
            graph[module] = {
                other
                for other in others
                if room(other) == name and other.split(".")[-1] not in OWN_WORDS
            }
    return graph


def circle(graph: Graph) -> list[str]:
    """The names along a circle of imports, empty where there is none."""
    done: set[str] = set()

    def walk(name: str, way: list[str]) -> list[str]:
        if name in way:
            return [*way[way.index(name) :], name]
        if name in done:
            return []
        for other in sorted(graph.get(name, ())):
            if found := walk(other, [*way, name]):
                return found
        done.add(name)
        return []

    return next((found for name in sorted(graph) if (found := walk(name, []))), [])


def floors(graph: Graph) -> int:
    """How many rooms the longest way down has."""
    return max(_height(graph, name) for name in graph)


def _height(graph: Graph, name: str) -> int:
    return 1 + max((_height(graph, other) for other in graph.get(name, ())), default=0)


def test_a_circle_is_found_and_named() -> None:
    assert circle({"a": {"b"}, "b": {"c"}, "c": {"b"}}) == ["b", "c", "b"]
    assert circle({"a": {"b", "c"}, "b": {"c"}, "c": set()}) == []
    assert floors({"a": {"b", "c"}, "b": {"c"}, "c": set()}) == 3


def test_every_module_stands_in_a_room() -> None:
    outside = {name.split(".")[1] for name in imports() if name.count(".") == 1}
    rooms = {path.parent.name for path in PACKAGE.glob("*/__init__.py")}
    assert outside - rooms == OUTSIDE_ROOMS


def test_no_circle_joins_rooms() -> None:
    assert " → ".join(circle(between_rooms())) == ""


@pytest.mark.parametrize("name", ROOMS)
def test_inside_a_room_only_a_result_and_its_own_words_know_each_other(name: str) -> None:
    assert " → ".join(circle(inside(name))) == ""


def test_the_house_stays_small() -> None:
    graph = between_rooms()
    assert len(graph) <= MOST_ROOMS
    assert sum(len(others) for others in graph.values()) <= MOST_ARROWS
    assert floors(graph) <= MOST_FLOORS


@pytest.mark.parametrize("name", ROOMS)
def test_a_room_says_what_it_is_for_what_comes_in_what_goes_out_and_what_to_read_first(
    name: str,
) -> None:
    said = ast.get_docstring(ast.parse((PACKAGE / name / "__init__.py").read_text("utf-8")))
    assert said is not None
    first, _, rest = said.partition("\n")
    assert first.endswith((".", ":")), said
    for word in ("In:", "Out:", "Read"):
        assert word in rest, (name, word)
    for file in re.findall(r"`(\w+\.py)`", said):
        assert (PACKAGE / name / file).is_file() or file == "cli.py", (name, file)


def test_every_file_that_a_comment_names_is_there() -> None:
    there = {path.name for path in PACKAGE.rglob("*.py")}
    named = {
        (str(path.relative_to(PACKAGE)), file)
        for path in PACKAGE.rglob("*.py")
        for file in re.findall(r"\b(\w+\.py)\b", path.read_text(encoding="utf-8"))
    }
    assert {one for one in named if one[1] not in there} == set()


def own_definitions() -> Iterator[tuple[str, ast.ClassDef | ast.FunctionDef]]:
    """Classes and functions at the top of a module, with the module's dotted name."""
    for path, (module, *_) in walked().items():
        assert isinstance(module, ast.Module)
        for node in module.body:
            if isinstance(node, ast.ClassDef | ast.FunctionDef):
                yield _dotted(path), node


def nodes() -> Iterator[tuple[str, ast.AST]]:
    """Every node of every module, with where it stands."""
    for path, found in walked().items():
        name = path.relative_to(PACKAGE)
        for node in found:
            yield f"{name}:{getattr(node, 'lineno', 0)}", node


def test_no_call_of_our_own_has_more_than_five_positional_arguments():
    ours = {node.name for _, node in own_definitions()}
    long = [
        f"{where} {node.func.id}"
        for where, node in nodes()
        if isinstance(node, ast.Call)
        and isinstance(node.func, ast.Name)
        and node.func.id in ours
        and len(node.args) > 5
    ]
    assert long == []


# a guess at how a text is meant, or an answer that is ordinary: nothing has gone wrong
ORDINARY = {
    "KeyboardInterrupt", "EOFError", "Abort", "ValueError", "OverflowError", "UnicodeDecodeError",
    "FileNotFoundError", "IsADirectoryError", "PermissionError",
}  # fmt: skip


def test_no_exception_is_swallowed_without_a_trace():
    """A handler raises, tells of the error, or leaves a trace for those who debug."""
    control = {
        node.name
        for _, node in own_definitions()
        if isinstance(node, ast.ClassDef)
        and any(re.search("Error|Exception", ast.unparse(base)) for base in node.bases)
    } - {"InputError"}
    silent = [
        where
        for where, node in nodes()
        if isinstance(node, ast.ExceptHandler)
        and not _caught(node) <= control | ORDINARY
        and not _speaks(node)
    ]
    assert silent == []


def _caught(handler: ast.ExceptHandler) -> set[str]:
    if handler.type is None:
        return {"everything"}
    several = handler.type.elts if isinstance(handler.type, ast.Tuple) else [handler.type]
    return {ast.unparse(one).split(".")[-1] for one in several}


def _speaks(handler: ast.ExceptHandler) -> bool:
    inside = [node for statement in handler.body for node in ast.walk(statement)]
    names = {node.id for node in inside if isinstance(node, ast.Name)}
    return bool({"trace", handler.name} & names) or any(isinstance(n, ast.Raise) for n in inside)


def test_a_class_name_is_used_once():
    names = [node.name for _, node in own_definitions() if isinstance(node, ast.ClassDef)]
    assert sorted(name for name in set(names) if names.count(name) > 1) == []


def test_odds_and_verdicts_of_the_estimator_stand_in_the_module_of_priors():
    bare = [
        f"{path.relative_to(PACKAGE)}:{number}"
        for name in ("estimate", "comparing", "diagnosis")
        for path in sorted((PACKAGE / name).glob("*.py"))
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), start=1)
        if re.search(r"(probability|share)\w* *[<>]=? *0?\.\d", line)
    ]
    assert bare == []
