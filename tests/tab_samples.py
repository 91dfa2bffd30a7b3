"""Tabs for tests: one of everything, and strategies that make any."""

from __future__ import annotations

from pathlib import Path

from hypothesis import strategies as st

from reader.music.tab import Group, Measure, Note, Tab

SCHEMAS = Path(__file__).resolve().parents[1] / "fixtures" / "schemas"
TUNING_OF = {4: "ukulele", 5: "banjo", 6: "guitar", 7: "guitar-7"}


def group(*notes: tuple[int, int | None], text: str | None = None, ghost: bool = False) -> Group:
    return Group(tuple(Note(s, f, ghost) for s, f in notes), text)


def sample_tab() -> Tab:
    """Repeats, a chord, two digits, an x, a ghost note, a hammer-on, a final bar."""
    first = Measure((group((1, 0)), group((2, 12), (3, None)), group((4, 7), ghost=True)), "single", "repeat-start")
    second = Measure((group((4, 5), text="h"), group((4, 7)), group((1, 3), (5, 2), (6, 3))), "repeat-end")
    return Tab(6, (first, second, Measure((group((6, 0)),), "final")), "guitar")


@st.composite
def tabs(draw: st.DrawFn, signs: bool = True) -> Tab:
    """Any tab of 4 to 7 lines in a usual tuning."""
    lines = draw(st.sampled_from(sorted(TUNING_OF)))
    fret = st.none() | st.integers(0, 24)
    text = st.none() | st.sampled_from(["h", "p", "/", "\\", "b", "~"]) if signs else st.none()

    def make_group(strings: set[int]) -> st.SearchStrategy[Group]:
        notes = st.tuples(*(st.builds(Note, st.just(s), fret, st.booleans()) for s in sorted(strings)))
        return st.builds(Group, notes, text)

    groups = st.sets(st.integers(1, lines), min_size=1).flatmap(make_group)
    kinds = st.sampled_from(["single", "double", "repeat-end", "repeat-both"])
    count = draw(st.integers(1, 4))
    measures = []
    for i in range(count):
        body = tuple(draw(st.lists(groups, min_size=1, max_size=6)))
        bar = draw(kinds) if i < count - 1 else draw(st.sampled_from(["none", "single", "final", "repeat-end"]))
        opening = draw(st.sampled_from(["none", "repeat-start", "single"])) if i == 0 else "none"
        measures.append(Measure(body, bar, opening))
    return Tab(lines, tuple(measures), TUNING_OF[lines])
