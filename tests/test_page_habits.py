"""What the other diagrams of a page tell of one."""

from __future__ import annotations

import pytest

from reader.image.marks import FIRST_ROW, MUTED, OPEN_BARE, OPEN_MARKED
from reader.page_habits import Glance, told_by_others

MARKED = Glance((MUTED, OPEN_MARKED, OPEN_MARKED, FIRST_ROW), (0.99, 0.99, 0.5, 0.99), numbered=True, labelled=True)
BARE = Glance((OPEN_BARE, OPEN_BARE, FIRST_ROW, FIRST_ROW), (0.99,) * 4, numbered=False, labelled=False)


def test_shares_are_of_the_others() -> None:
    told = told_by_others([MARKED, MARKED, MARKED, BARE])
    assert told[3] == {"alike": 1, "marked": 1, "worn": pytest.approx(1 / 3), "numbered": 1, "labelled": 0.75}
    assert told[0]["marked"] == pytest.approx(6 / 8)
    assert told[0]["numbered"] == pytest.approx(2 / 3)


def test_few_others_tell_nothing() -> None:
    (told, _) = told_by_others([BARE, MARKED])
    assert told == {"alike": 1, "marked": 0, "worn": 0, "numbered": 0, "labelled": 0.5}
    assert told_by_others([]) == []


def test_another_number_of_strings() -> None:
    six = Glance((OPEN_BARE,) * 6, (0.9,) * 6, numbered=False, labelled=False)
    assert [g["alike"] for g in told_by_others([BARE, BARE, BARE, six])] == [2 / 3, 2 / 3, 2 / 3, 0]
