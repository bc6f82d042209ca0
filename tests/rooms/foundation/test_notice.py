"""Notices: figures in the reader's units, and each named once over the seasons."""

from vaporwright.display_units import show
from vaporwright.foundation.notice import Notice, merged

HOT = Notice("hot", "The tank is at {0}, limit {1}.", ((330.0, "temperature"), (320.0, "temperature")))
HOTTER = Notice("hot", "The tank is at {0}, limit {1}.", ((340.0, "temperature"), (320.0, "temperature")))
DRY = Notice("dry", "Braces {{stay}}.")


def test_figures_follow_the_units() -> None:
    assert HOT.words(lambda value, quantity: show(value, quantity, "SI")) == "The tank is at 56.9 °C, limit 46.9 °C."
    assert HOT.words(lambda value, quantity: show(value, quantity, "US")) == "The tank is at 134 °F, limit 116 °F."


def test_braces_of_a_finished_sentence_stay() -> None:
    assert DRY.words(lambda _value, _quantity: "") == "Braces {stay}."


def test_a_notice_appears_once_with_the_seasons_that_raise_it() -> None:
    found = merged({"summer": (HOT, DRY), "winter": (HOTTER,), "average": ()})
    assert [(notice.name, notice.seasons) for notice in found] == [("hot", ("summer", "winter")), ("dry", ("summer",))]
    assert found[0].figures == HOT.figures
    assert found[1].words(lambda _value, _quantity: "").endswith("(summer)")


def test_no_seasons_are_named_where_all_raise_it() -> None:
    assert merged({"summer": (HOT,), "winter": (HOT,)})[0].seasons == ()
