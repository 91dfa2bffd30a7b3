"""Tabs redrawn: everything within the margins, every number on its line."""

from __future__ import annotations

from hypothesis import given, settings
from tab_samples import group, sample_tab, tabs

from reader.export.drawing import Line, Text, ink_box
from reader.export.paper import A4
from reader.export.pdf import to_pdf
from reader.export.svg import to_svg
from reader.export.tab_drawing import GAP, draw_tab
from reader.music.tab import Measure, Tab


@settings(max_examples=30, deadline=None)
@given(tabs())
def test_nothing_leaves_the_margins(tab: Tab) -> None:
    for page in draw_tab(tab, "Air"):
        assert ink_box(page.items).inside(A4.content, slack=1.0)


@settings(max_examples=30, deadline=None)
@given(tabs())
def test_every_number_is_drawn_once_on_its_line(tab: Tab) -> None:
    pages = draw_tab(tab)
    lines = sorted({round(i.y1, 3) for p in pages for i in p.items if isinstance(i, Line) and i.y1 == i.y2})
    numbers = [i for p in pages for i in p.items if isinstance(i, Text) and i.anchor == "middle" and i.size > 2.5]
    assert len(numbers) == sum(len(g.notes) for g in tab.groups)
    for number in numbers:
        middle = number.y - number.size * 0.365
        assert min(abs(middle - y) for y in lines) < GAP / 4


def test_a_long_tab_runs_over_pages() -> None:
    measure = Measure(tuple(group((s % 6 + 1, s % 20)) for s in range(40)))
    pages = draw_tab(Tab(6, (measure,) * 30, "guitar"), "Long")
    assert len(pages) > 1
    assert sum(i.text == "Long" for i in pages[0].items if isinstance(i, Text)) == 1


def test_it_becomes_svg_and_pdf() -> None:
    pages = draw_tab(sample_tab(), "Air")
    assert to_svg(pages[0]).startswith("<svg")
    assert to_pdf(pages).startswith(b"%PDF")
