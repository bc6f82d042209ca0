"""The example jobs as rigs for rehearsals, built once a process, and scripts from a text."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from dataclasses import replace
from functools import lru_cache
from pathlib import Path

from vaporwright.controls.design import CauseAndEffect
from vaporwright.controls.expansion import expanded
from vaporwright.controls.rehearsal import rig_of
from vaporwright.controls.rig import Rig
from vaporwright.controls.script import Script
from vaporwright.controls.unit_signals import UnitOptions
from vaporwright.controls.unit_table import UnitTable, unit_table
from vaporwright.files.catalogue_file import read_catalogue_file
from vaporwright.files.job_file import read_job_file
from vaporwright.files.script_file import read_script_file, script_of
from vaporwright.unit.answer import UnitAnswer
from vaporwright.unit.job import build_job
from vaporwright.unit.sizing import size_unit

EXAMPLES = Path(__file__).resolve().parents[1] / "examples"
SCRIPTS = Path(__file__).resolve().parents[1] / "src" / "vaporwright" / "files" / "data" / "scripts"
JOBS = {"gas": "tumbling_effluent_gas", "electric": "nickel_rinse_electric", "steam": "coolant_wash_steam"}
OPTIONS = UnitOptions()


@lru_cache
def example_answer(kind: str) -> UnitAnswer:
    job_file = read_job_file(EXAMPLES / f"{JOBS[kind]}.toml")
    return size_unit(build_job(job_file.values), read_catalogue_file(job_file.catalogue)).answer


@lru_cache
def example_table(kind: str, options: UnitOptions = OPTIONS) -> UnitTable:
    return unit_table(example_answer(kind), options)


@lru_cache
def example_rig(kind: str, options: UnitOptions = OPTIONS, season: str = "") -> Rig:
    return rig_of(example_answer(kind), example_table(kind, options), season)


def altered_rig(kind: str, alter: Callable[[CauseAndEffect], CauseAndEffect]) -> Rig:
    """The rig with a fault planted in its matrix."""
    return replace(example_rig(kind), table=expanded(alter(example_table(kind).design)))


def library(name: str) -> Script:
    return read_script_file(SCRIPTS / f"{name}.toml")


OPENING = """
[[event]]
at = "0 s"
turn = { blower = "auto", pump = "auto", refill = "auto", heat = "auto" }
[[event]]
at = "2 s"
push = "reset"
[[event]]
at = "5 s"
push = "start"
"""


def script(text: str, *, duration: str = "10 min", opening: bool = True, head: str = "") -> Script:
    """A script from its events and expectations."""
    start = f'name = "a test"\npurpose = "a test"\nduration = "{duration}"\n{head}\n'
    return script_of(tomllib.loads(start + (OPENING if opening else "") + text), "test.toml")
