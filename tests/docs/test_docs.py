"""The documentation says what the code does: generated pages, tutorial, options, job keys, links."""

from __future__ import annotations

import argparse
import importlib.util
import re
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType

import pytest

from vaporwright.cli.main import _parser
from vaporwright.unit.fields import FIELDS

ROOT = Path(__file__).resolve().parents[2]
DOCS = ROOT / "docs"
PAGES = sorted(
    path.relative_to(ROOT)
    for path in (*ROOT.glob("*.md"), *DOCS.rglob("*.md"), *(ROOT / "changes").glob("*.md"))
    if path.is_file()
)
HEADINGS = {"# New", "# Changed", "# Fixed", "# Results moved"}


def text_of(page: Path | str) -> str:
    return (ROOT / page).read_text(encoding="utf-8")


def loaded(name: str) -> ModuleType:
    """A script of docs as a module; docs is no package."""
    path = DOCS / f"{name}.py"
    specification = importlib.util.spec_from_file_location(name, path)
    assert specification is not None
    assert specification.loader is not None
    module = importlib.util.module_from_spec(specification)
    sys.modules[name] = module
    specification.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def generated() -> dict[str, str]:
    """Texts that `python3 dev.py docs` would write, by page; the tutorial's commands run on the way."""
    pages: dict[Path, str] = loaded("generate").pages()
    return {path.relative_to(ROOT).as_posix(): text for path, text in pages.items()}


@pytest.mark.parametrize("name", ["sources", "job_file", "catalogue_file", "commands"])
def test_reference_page_is_not_stale(generated: dict[str, str], name: str) -> None:
    page = f"docs/reference/{name}.md"
    assert generated[page] == text_of(page), f"{page} is stale: python3 dev.py docs"


def test_tutorial_prints_what_it_shows(generated: dict[str, str]) -> None:
    page = "docs/tutorial.md"
    assert generated[page] == text_of(page), "the tutorial's output is stale: python3 dev.py docs, and read its prose"


def test_tutorial_shows_success_failure_and_refusal() -> None:
    """Its key lines, so that a regenerated page that shows only faults does not pass."""
    text = text_of("docs/tutorial.md")
    blocks = re.findall(r"```console\n\$ (.+?)\n(.*?)```", text, re.S)
    printed = [(command, output) for command, output in blocks]
    assert len(printed) >= 8
    assert "limits it: " in printed[0][1]
    assert "Tank settles at" in printed[0][1]
    assert "Ask next" in printed[0][1]
    assert 'site.elevation: "4200 F"' in text
    assert "nearest valid key: site.summer.wet_bulb" in text
    assert "not sized" in text
    assert any("Wrote rinse.pdf" in output for _, output in printed)
    assert any("first: airflow_lost" in output for _, output in printed)
    assert "Capability " in printed[-3][1]
    assert "verifies: run" in printed[-2][1]
    assert "hotter than predicted" in printed[-1][1]
    faults = [command for command, output in printed if output.startswith("vaporwright:")]
    assert len(faults) == 3


def settling_and_rate(output: str) -> tuple[float, float]:
    """Winter's settling temperature and evaporation of a report's table."""
    rows = {name: re.search(rf"^{name} .*$", output, re.M) for name in ("Tank settles at", "Evaporates")}
    figures = [re.findall(r"[\d.]+(?= (?:°F|gal/h))", row.group()) for row in rows.values() if row]
    return float(figures[0][1]), float(figures[1][1])


def test_tutorial_prose_holds() -> None:
    """What the tutorial says of its own figures: the larger tower settles much colder and evaporates about as much."""
    blocks = re.findall(
        r"```console\n\$ vaporwright (size|rate) rinse.toml\n(.*?)```", text_of("docs/tutorial.md"), re.S
    )
    first, last = blocks[0][1], blocks[-1][1]
    (small_F, small), (large_F, large) = settling_and_rate(first), settling_and_rate(last)
    assert large_F < small_F - 15.0
    assert large == pytest.approx(small, rel=0.05)
    assert "4 sq ft" in last
    assert "2 sq ft" in first


def every_option(parser: argparse.ArgumentParser) -> Iterator[tuple[str, str]]:
    """Each command's full name with each of its options and positionals."""
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction):
            for child in action.choices.values():
                yield from every_option(child)
        elif not isinstance(action, argparse._HelpAction):
            for name in action.option_strings or [str(action.metavar or action.dest)]:
                yield parser.prog, name


def test_every_command_and_option_is_documented() -> None:
    sections = dict(
        re.findall(r"^## (vaporwright .+?)\n(.*?)(?=^## |\Z)", text_of("docs/reference/commands.md"), re.S | re.M)
    )
    options = list(every_option(_parser()))
    assert len(options) > 15
    missing = [f"{command} {name}" for command, name in options if f"`{name}" not in sections.get(command, "")]
    assert not missing, "undocumented: " + ", ".join(missing)


def test_every_command_is_met_in_prose() -> None:
    """A newcomer meets each command in README, tutorial or a hand-written page, not only in the reference."""
    prose = "\n".join(text_of(page) for page in PAGES if "reference" not in page.parts)
    for command, _ in every_option(_parser()):
        assert command in prose, command


def test_every_job_key_is_documented() -> None:
    page = text_of("docs/reference/job_file.md")
    for field in FIELDS:
        assert f"\n### {field.key}\n\n{field.meaning}" in page, field.key


def test_readme_names_the_two_commands() -> None:
    commands = re.findall(r"^ {4}(python3 dev\.py .*)$", text_of("README.md"), re.M)
    assert commands == ["python3 dev.py demo", "python3 dev.py test"]
    assert "python3 dev.py test" in text_of(".ci/run")


def test_readme_cautions_and_licence() -> None:
    text = text_of("README.md")
    assert "no safety approval" in text
    assert "invented" in text
    assert text_of("LICENSE").startswith("MIT")
    assert "MIT" in text.partition("## Licence")[2]


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.as_posix())
def test_links_lead_somewhere(page: Path) -> None:
    text = text_of(page)
    for target in re.findall(r"\]\(([^)\s]+)\)", text):
        path, _, anchor = target.partition("#")
        assert "://" not in target, f"{page}: {target}"
        linked = (ROOT / page).parent / path if path else ROOT / page
        assert linked.exists(), f"{page}: {target}"
        if anchor:
            assert anchor in anchors(linked.read_text(encoding="utf-8")), f"{page}: {target}"


def anchors(text: str) -> set[str]:
    """Anchors of a page: named ones, and those that its headings get."""
    headings = re.findall(r"^#+ (.+)$", text, re.M)
    made = {re.sub(r"[^\w -]", "", heading.lower()).strip().replace(" ", "-") for heading in headings}
    return made | set(re.findall(r'<a id="([^"]+)">', text))


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.as_posix())
def test_code_that_pages_name_exists(page: Path) -> None:
    """Paths in backquotes below the package, tests, docs and examples."""
    rooms = "foundation|properties|equipment|unit|files|charts|documents|actions|cli"
    package = ROOT / "src" / "vaporwright"
    for path in re.findall(rf"`((?:{rooms})/[\w/.]+\.\w+)`", text_of(page)):
        assert (package / path).exists(), f"{page}: {path}"
    for path in re.findall(r"`((?:tests|docs|examples|src)/[\w/.]+)`", text_of(page)):
        assert (ROOT / path).exists(), f"{page}: {path}"


def test_pictures_are_small() -> None:
    pictures = sorted((DOCS / "pictures").iterdir())
    assert pictures
    for picture in pictures:
        assert picture.stat().st_size < 200_000, picture.name


def test_changelog_fragments() -> None:
    for path in sorted((ROOT / "changes").glob("*.md")):
        if path.name != "README.md":
            assert path.read_text(encoding="utf-8").splitlines()[0] in HEADINGS, path.name
    version = tomllib.loads(text_of("pyproject.toml"))["project"]["version"]
    assert version in text_of("CHANGELOG.md")


@pytest.mark.parametrize("wrong", ["show: Nowhere", "edit rinse.toml: nothing of it => x"])
def test_a_tutorial_that_lost_its_place_is_an_error(wrong: str) -> None:
    runner = loaded("tutorial_runner")
    start = '```toml\n# rinse.toml\n[duty]\nvolume = "26 gal"\n```\n'
    with pytest.raises(ValueError, match="tutorial"):
        runner.refreshed(f"{start}<!-- {wrong} -->\n```console\n$ vaporwright size rinse.toml\n```\n")


def test_tutorial_runner_chooses_lines() -> None:
    runner = loaded("tutorial_runner")
    lines = ["a", "b one", "c", "d", "e"]
    assert list(runner._chosen(lines, "b ... c | e")) == ["...", "b one", "c", "...", "e"]
    assert list(runner._chosen(lines, "a")) == ["a", "..."]
