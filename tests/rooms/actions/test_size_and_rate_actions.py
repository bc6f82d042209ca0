"""What the commands `size` and `rate` do, apart from words."""

from __future__ import annotations

from pathlib import Path

import pytest

from vaporwright.actions.size_job import rate_job, size_job
from vaporwright.foundation.errors import InputError, LiquidRefused

VOLUME = '[duty]\nvolume = "4000 gal/month"\n'


def job(folder: Path, text: str) -> Path:
    path = folder / "job.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_rating_the_unit_that_sizing_chose_gives_the_same_answer(tmp_path: Path) -> None:
    sized = size_job(job(tmp_path, VOLUME))
    unit = sized.answer.unit
    named = (
        f'[unit]\ntower = "{unit.tower.part_id}"\ntowers = {unit.towers}\ntank = "{unit.tank.part_id}"\n'
        f'heat_source = "{unit.heat_source.part_id}"\npump = "{unit.pump.part_id}"\n'
    )
    rated = rate_job(job(tmp_path, VOLUME + named))
    assert rated.answer.unit == unit
    assert rated.candidates == ()
    for season, result in rated.answer.seasons.items():
        assert result.evaporation_kg_s == pytest.approx(sized.answer.seasons[season].evaporation_kg_s, rel=1e-6)
    assert [question.key for question in rated.questions] == [question.key for question in sized.questions]


def test_the_liquid_comes_before_the_catalogue(tmp_path: Path) -> None:
    (tmp_path / "ours.toml").write_text("not = TOML =", encoding="utf-8")
    path = job(tmp_path, 'catalogue = "ours.toml"\n' + VOLUME + '[liquid]\nhazards = ["cyanide"]\n')
    for action in (size_job, rate_job):
        with pytest.raises(LiquidRefused, match="cyanide"):
            action(path)


def test_a_broken_catalogue_is_named_by_its_own_file(tmp_path: Path) -> None:
    (tmp_path / "ours.toml").write_text("not = TOML =", encoding="utf-8")
    with pytest.raises(InputError, match=r"ours\.toml"):
        size_job(job(tmp_path, 'catalogue = "ours.toml"\n' + VOLUME))


def test_the_job_file_is_kept_with_its_answer(tmp_path: Path) -> None:
    outcome = size_job(job(tmp_path, VOLUME))
    assert outcome.job_file.texts["duty.volume"] == "4000 gal/month"
    assert outcome.catalogue.invented
    assert outcome.answer.job.number("duty.volume") == outcome.job_file.values["duty.volume"]
