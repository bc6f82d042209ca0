"""The register: marking, listing and reading of sources."""

from __future__ import annotations

import pytest

from vaporwright.foundation import register
from vaporwright.foundation.register import Citation, citations, sourced, sources


@pytest.fixture
def own_citations(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(register, "_citations", [])


@pytest.mark.usefixtures("own_citations")
def test_marking_returns_the_function_itself_and_is_listed_in_order() -> None:
    def second(x: float) -> float:
        return x

    def first(x: float) -> float:
        return x

    for function in (second, first):
        function.__module__ = "vaporwright.properties.example"
        function.__qualname__ = function.__name__
    assert sourced("b-2000", "eq. 2")(second) is second
    sourced("a-1999", "eq. 1")(second)
    sourced("c-2001", "table 3")(first)
    assert citations() == (
        Citation("properties.example.first", "c-2001", "table 3"),
        Citation("properties.example.second", "a-1999", "eq. 1"),
        Citation("properties.example.second", "b-2000", "eq. 2"),
    )


def test_sources_are_read_with_kind_citation_and_check() -> None:
    source = sources()["chandrupatla-1997"]
    assert source.source_id == "chandrupatla-1997"
    assert source.kind == "published"
    assert "Chandrupatla" in source.citation
    assert source.checked


def test_a_source_defined_twice_is_refused(monkeypatch: pytest.MonkeyPatch, tmp_path: object) -> None:
    from pathlib import Path

    assert isinstance(tmp_path, Path)
    entry = '[same]\nkind = "published"\ncitation = "x"\nchecked = "y"\n'
    folder = tmp_path / "sources.d"
    folder.mkdir()
    (folder / "one.toml").write_text(entry)
    (folder / "two.toml").write_text(entry)
    monkeypatch.setattr(register.resources, "files", lambda _: tmp_path)
    sources.cache_clear()
    try:
        with pytest.raises(ValueError, match=r"two\.toml: source same is defined twice"):
            sources()
    finally:
        monkeypatch.undo()
        sources.cache_clear()
