"""Every physics function has a source, every source a user, every cited function an independent check."""

from __future__ import annotations

import ast
import importlib
import inspect
import pkgutil
from collections.abc import Iterator
from pathlib import Path

import pytest

import vaporwright
from vaporwright.foundation.register import citations, sources

TESTS = Path(__file__).resolve().parent.parent
KINDS = {"published", "common practice, no source", "from memory", "own derivation"}


@pytest.fixture(scope="module", autouse=True)
def everything_is_imported() -> None:
    for info in pkgutil.walk_packages(vaporwright.__path__, "vaporwright."):
        if info.name.rsplit(".", 1)[-1] != "__main__":
            importlib.import_module(info.name)


def public_functions(room: str) -> Iterator[str]:
    """Names, below the package, of the public functions that a room's modules define."""
    package = importlib.import_module(f"vaporwright.{room}")
    for info in pkgutil.walk_packages(package.__path__, f"vaporwright.{room}."):
        for name, thing in vars(importlib.import_module(info.name)).items():
            function = inspect.unwrap(thing) if callable(thing) and not inspect.isclass(thing) else thing
            if inspect.isfunction(function) and function.__module__ == info.name and not name.startswith("_"):
                yield f"{info.name.removeprefix('vaporwright.')}.{name}"


def verified_functions() -> dict[str, list[str]]:
    """Functions that tests/published and tests/oracle name in @verifies(...), each with its tests."""
    found: dict[str, list[str]] = {}
    for folder in ("published", "oracle"):
        for path in sorted((TESTS / folder).rglob("test_*.py")):
            tree = ast.parse(path.read_text(encoding="utf-8"))
            texts = module_texts(tree)
            for node in ast.walk(tree):
                if not isinstance(node, ast.FunctionDef) or not node.name.startswith("test_"):
                    continue
                for mark in node.decorator_list:
                    if isinstance(mark, ast.Call) and ast.unparse(mark.func).endswith("verifies"):
                        for argument in mark.args:
                            name = text_of(argument, texts)
                            assert name is not None, f"{path.name}: {node.name}: {ast.unparse(argument)} is no text"
                            found.setdefault(name, []).append(f"{folder}/{path.name}: {node.name}")
    return found


def module_texts(tree: ast.Module) -> dict[str, str]:
    """Texts that a test module keeps under a name of its own."""
    return {
        target.id: node.value.value
        for node in tree.body
        if isinstance(node, ast.Assign) and isinstance(node.value, ast.Constant) and isinstance(node.value.value, str)
        for target in node.targets
        if isinstance(target, ast.Name)
    }


def text_of(argument: ast.expr, texts: dict[str, str]) -> str | None:
    if isinstance(argument, ast.Name):
        return texts.get(argument.id)
    return argument.value if isinstance(argument, ast.Constant) and isinstance(argument.value, str) else None


def cited_functions() -> set[str]:
    return {citation.function for citation in citations()}


def is_public(function: str) -> bool:
    return not any(part.startswith("_") for part in function.split("."))


def test_every_public_function_of_physics_carries_a_source() -> None:
    functions = {name for room in ("properties", "equipment") for name in public_functions(room)}
    assert len(functions) > 50
    missing = sorted(functions - cited_functions())
    assert not missing, "without @sourced: " + ", ".join(missing)


def test_every_cited_source_is_defined() -> None:
    missing = sorted({f"{c.source_id} (by {c.function})" for c in citations() if c.source_id not in sources()})
    assert not missing, "not in foundation/sources.d: " + ", ".join(missing)


def test_every_source_has_a_user() -> None:
    unused = sorted(set(sources()) - {citation.source_id for citation in citations()})
    assert not unused, "no function cites: " + ", ".join(unused)


def test_sources_are_complete() -> None:
    for source in sources().values():
        assert source.kind in KINDS, f"{source.source_id}: kind {source.kind!r}"
        assert len(source.citation) > 15, source.source_id
        assert len(source.checked) > 5, source.source_id
        for text in (source.citation, source.checked):
            assert "://" not in text, source.source_id


def test_what_a_source_says_was_checked_names_tests_that_exist() -> None:
    for source in sources().values():
        for word in source.checked.replace(",", " ").split():
            word = word.strip("().:;")
            if word.startswith("tests/"):
                assert (TESTS.parent / word).exists(), f"{source.source_id}: {word}"


def test_locators_say_where() -> None:
    for citation in citations():
        assert citation.locator.strip(), f"{citation.function}: {citation.source_id}"


def test_no_source_is_cited_twice_by_one_function_for_one_thing() -> None:
    seen = [(c.function, c.source_id, c.locator) for c in citations()]
    assert len(seen) == len(set(seen))


def test_every_cited_function_has_an_independent_check() -> None:
    verified = verified_functions()
    missing = sorted(name for name in cited_functions() if is_public(name) and name not in verified)
    print("\n".join(missing))
    assert not missing, f"{len(missing)} without @verifies in tests/published or tests/oracle: " + ", ".join(missing)


def test_checks_name_functions_that_exist() -> None:
    for name, tests in verified_functions().items():
        module_name, _, function = name.rpartition(".")
        try:
            module = importlib.import_module(f"vaporwright.{module_name}")
        except ModuleNotFoundError:
            pytest.fail(f"{tests[0]} verifies {name}: no such module")
        assert callable(getattr(module, function, None)), f"{tests[0]} verifies {name}: no such function"
