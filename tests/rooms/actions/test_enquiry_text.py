"""Values of a job file's text are changed by line: comments outlive it, and what cannot be edited is written anew."""

from __future__ import annotations

import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vaporwright.actions.enquiry_text import Typed, edited_text, raw_values
from vaporwright.files.job_file import started_job_text
from vaporwright.foundation.errors import InputError

TEXT = """# a shop's own head

[job]
name = "Dip"  # as they call it

[duty]
volume = "26 gal/h"
hours_per_day = 16 # two shifts

# The site, and so on.
[site.summer]
air_temperature = "90 degF"
"""


def test_only_the_line_of_a_key_changes() -> None:
    edited = edited_text(TEXT, {"duty.hours_per_day": "20"})
    assert edited == TEXT.replace("hours_per_day = 16 # two", "hours_per_day = 20 # two")


def test_a_new_key_goes_to_the_end_of_its_table() -> None:
    edited = edited_text(TEXT, {"duty.days_per_week": "6"})
    assert edited == TEXT.replace("# two shifts\n", "# two shifts\ndays_per_week = 6\n")


def test_a_new_table_goes_to_the_end() -> None:
    edited = edited_text(TEXT, {"site.elevation": "300 m"})
    assert edited == TEXT + '\n[site]\nelevation = "300 m"\n'


def test_a_key_that_is_emptied_becomes_the_comment_of_a_started_file() -> None:
    assert "\n# hours_per_day = 16\n" in edited_text(TEXT, {"duty.hours_per_day": ""})


def test_a_commented_line_of_a_started_file_is_taken() -> None:
    started = started_job_text()
    edited = edited_text(started, {"liquid.chloride": "9 mg/L", "site.winter.relative_humidity": "80 %"})
    different = [pair for pair in zip(started.split("\n"), edited.split("\n"), strict=True) if pair[0] != pair[1]]
    assert [new for _, new in different] == ['chloride = "9 mg/L"', 'relative_humidity = "80 %"']
    assert edited_text(edited, {"liquid.chloride": "", "site.winter.relative_humidity": ""}) == started


@pytest.mark.parametrize(
    "text",
    [
        'duty.volume = "26 gal/h"\n',
        'duty = {volume = "26 gal/h"}\n',
        '["duty"]\nvolume = "26 gal/h"\n',
        '[duty]\n"volume" = "26 gal/h"\n[job]\nnote = """\n[duty]\nvolume = "1 gal/h"\n"""\n',
    ],
)
def test_what_lines_do_not_show_is_written_anew(text: str) -> None:
    more = 'catalogue = "ours.toml"\n' + text + '\n[accepted]\n"a b" = "for a reason in writing"\n'
    edited = edited_text(more, {"duty.volume": "30 gal/h", "site.elevation": "3 m"})
    assert raw_values(edited) == raw_values(more) | {"duty.volume": "30 gal/h", "site.elevation": "3 m"}
    assert tomllib.loads(edited)["catalogue"] == "ours.toml"
    assert tomllib.loads(edited)["accepted"] == {"a b": "for a reason in writing"}


def test_values_over_several_lines_and_signs_in_texts() -> None:
    text = '[duty]\nvolume = "26 gal/h" # not # "this"\n[liquid]\nhazards = [ # none so far\n  "none",\n] # end\n'
    changes: dict[str, Typed] = {"duty.volume": "27 gal/h", "liquid.hazards": ("volatile", "cyanide")}
    expected = '[duty]\nvolume = "27 gal/h" # not # "this"\n[liquid]\nhazards = ["volatile", "cyanide"] # end\n'
    assert edited_text(text, changes) == expected


@given(st.text(max_size=40), st.text(max_size=40))
def test_any_text_comes_back_as_typed_or_is_refused(name: str, note: str) -> None:
    changes: dict[str, Typed] = {"job.name": name, "job.note": note}
    if any(0xD800 <= ord(one) <= 0xDFFF for one in name + note):  # half a letter: no file can hold it
        with pytest.raises(InputError, match="no text"):
            edited_text(TEXT, changes)
        return
    edited = edited_text(TEXT, changes)
    kept = {key: one for key, one in (("job.name", name), ("job.note", note)) if one}
    assert {key: raw for key, raw in raw_values(edited).items() if key.startswith("job.")} == kept
    assert "# two shifts" in edited
