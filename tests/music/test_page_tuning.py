"""The tuning of a page. Shapes: common practice, no source."""

from __future__ import annotations

import pytest

from reader.errors import NotationError
from reader.music.page_tuning import LabelledShape, choose_tuning
from reader.music.shape import Shape


def page(text: str) -> list[LabelledShape]:
    """``C=0003 F=2010 ?=0212``: labels and shapes; ? for none."""
    pairs = (item.split("=") for item in text.split())
    return [(Shape.parse(shape), None if label == "?" else label) for label, shape in pairs]


@pytest.mark.parametrize(
    ("text", "tuning"),
    [
        ("C=0003 F=2010 G7=0212", "ukulele"),
        ("C=0003 F=2010 G7=0212 Am=2010", "ukulele"),  # one slip does not turn a page
        ("G=0003 C=2010 D7=0212 Em=2000", "ukulele-baritone"),
        ("D=0003 G=2010 A7=0212 Bm=2000", "ukulele-d"),
        ("G=0023 D=2002 A=2245 C=5230", "mandolin"),
        ("C=x32010 G=320003 Am=x02210", "guitar"),
        ("D=000000 G=555555 A=777777", "guitar-open-d"),
        ("G=00000 C=02012 D7=00210", "banjo"),
    ],
)
def test_labels_tell_the_tuning(text: str, tuning: str) -> None:
    chosen = choose_tuning(page(text))
    assert chosen.tuning.id == tuning
    assert chosen.certain, chosen.reason


def test_without_labels_the_usual_tuning_is_no_certainty() -> None:
    chosen = choose_tuning(page("?=0003 ?=2010"))
    assert (chosen.tuning.id, chosen.certain, chosen.checked) == ("ukulele", False, 0)
    assert "No label" in chosen.reason


def test_labels_that_fit_no_tuning_leave_it_open() -> None:
    chosen = choose_tuning(page("G=0003 F#m=2010 Bb=0212 Db=0232"))
    assert not chosen.certain
    assert "0 of 4 labels agree" in chosen.reason or "check the tuning" in chosen.reason


def test_half_of_the_labels_must_agree() -> None:
    assert not choose_tuning(page("C=0003 G=0432 D=0212 Bb=0001")).certain


def test_other_pages_of_the_file_help() -> None:
    alone = choose_tuning(page("G=0003"))
    helped = choose_tuning(page("G=0003"), elsewhere=page("C=2010 D7=0212 Em=2000 G=0003 Am=2210"))
    assert not alone.certain
    assert helped.tuning.id == "ukulele-baritone"
    assert helped.certain


def test_the_person_overrules() -> None:
    chosen = choose_tuning(page("C=0003 F=2010 G7=0212"), given="ukulele-baritone")
    assert (chosen.tuning.id, chosen.certain, chosen.certainty) == ("ukulele-baritone", True, 1.0)
    with pytest.raises(NotationError, match="'q' in the tuning 'q'"):
        choose_tuning([], given="q")


def test_a_capo_that_all_labels_agree_on() -> None:
    chosen = choose_tuning(page("D=x32010 A=320003 Bm=x02210 E=xx0232 F#m=022000 B7=x02020"))
    assert chosen.tuning.id == "guitar capo 2"
    assert chosen.certain


def test_diagrams_with_other_numbers_of_strings_are_left_aside() -> None:
    mixed = page("C=0003 F=2010 G7=0212 C=x32010")
    assert choose_tuning(mixed).tuning.id == "ukulele"
    assert choose_tuning(mixed, string_count=6).tuning.id == "guitar"


def test_strings_that_no_tuning_has() -> None:
    with pytest.raises(NotationError, match="No tuning of 9 strings is known"):
        choose_tuning(page("C=000000000"))


def test_probabilities_add_up() -> None:
    chosen = choose_tuning(page("C=0003 F=2010"))
    assert sum(v.probability for v in chosen.votes) == pytest.approx(1.0)
    assert chosen.votes[0].agreeing == 2
