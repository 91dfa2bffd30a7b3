"""The desk as a person works at it, in a real browser."""

from __future__ import annotations

import json
import os
import signal
import statistics
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from review_samples import Demo, Drawn

from reader.image.cutouts import tab_places
from reader.library.rows import SightingQuery
from reader.library.store import Library
from reader.music.shape import Shape
from reader.review.pages import static_address

ROOT = Path(__file__).resolve().parents[2]


CENTRES = "all => all.map(c => [c.cx.baseVal.value, c.cy.baseVal.value])"
BOXES = "all => all.map(p => p.getBBox()).map(b => [b.x, b.y, b.width, b.height])"
ON_SCREEN = """(svg, points) => {
  const [area, view] = [svg.getBoundingClientRect(), svg.viewBox.baseVal];
  return points.map(([x, y]) => [area.left + x / view.width * area.width, area.top + y / view.height * area.height]);
}"""
IN_TURN = """async () => {
  await new Promise((drawn) => requestAnimationFrame(() => setTimeout(drawn)));
  const common = await import(document.querySelector('script').src);
  await common.inTurn(() => null);
}"""


def press(page: Any, *keys: str) -> None:
    """Keys one after another, each carried out before the next; without keys, whatever was clicked."""
    page.wait_for_load_state()
    for key in keys or ("",):
        if key:
            page.keyboard.press(key)
        page.evaluate(IN_TURN)


def shown(page: Any) -> int | None:
    """The sighting on the desk; None when nothing is left."""
    article = page.query_selector("article.reading")
    return None if article is None else int(article.get_attribute("data-id"))


def drafted(page: Any) -> dict[str, Any]:
    draft: dict[str, Any] = json.loads(page.get_attribute("article.reading", "data-draft"))
    return draft


def said(page: Any) -> str:
    return str(page.inner_text("#said"))


def state(library: Library, number: int) -> str:
    sighting = library.sighting(number)
    return f"{sighting.standing.frame.shape} {sighting.state}"


def settle_like_a_teacher(page: Any, drawn: Drawn, read: str) -> int:
    """Settle what is shown by its truth, as quickly as the desk allows; returns the actions it took."""
    if drawn.truth is None:
        press(page, "n")
        return 1
    if drawn.truth == read:
        press(page, "Enter")
        return 1
    for button in page.query_selector_all("[data-show]"):
        if Shape(tuple(json.loads(button.get_attribute("data-show"))["frets"])) == Shape.parse(drawn.truth):
            press(page, button.get_attribute("data-key"), "Enter")
            return 2
    press(page, "f")
    page.keyboard.type(drawn.truth)
    press(page, "Enter", "Enter")
    return 4


def test_a_whole_review_takes_two_actions_a_reading(page: Any, open_desk: Any) -> None:
    library, truth = open_desk.library, open_desk.demo.truth
    actions = []
    while (number := shown(page)) is not None:
        actions.append(settle_like_a_teacher(page, truth[number], str(library.sighting(number).standing.frame.shape)))
    assert len(actions) == 10
    assert statistics.median(actions) <= 2
    assert library.count_sightings(SightingQuery(states=("unchecked",))) == 0
    for sighting in library.sightings():
        if sighting.settled:
            expected = truth[sighting.id].truth
            assert (None if sighting.state == "rejected" else str(sighting.standing.frame.shape)) == expected
    assert page.inner_text("h1") == "Nothing is left to look at."


def test_the_redrawing_lies_on_the_drawing(page: Any, open_desk: Any) -> None:
    """On the picture, ink is under every line of our grid and under every dot."""
    import cv2

    number = next(i for i, d in open_desk.demo.truth.items() if d.truth == "2010" and d.flag is not None)
    page.goto(f"{open_desk.base}/?id={number}")
    page.wait_for_function("document.querySelector('.photo').complete")
    crop = cv2.imdecode(np.frombuffer(open_desk.library.crop(number), np.uint8), cv2.IMREAD_GRAYSCALE)
    ink = crop < 0.6 * np.median(crop)
    drawn = page.eval_on_selector_all(
        ".drawn circle[fill='#4a2fb0']", "all => all.map(c => [c.cx.baseVal.value, c.cy.baseVal.value])"
    )
    assert len(drawn) == 2
    assert all(ink[round(y), round(x)] for x, y in drawn)
    strokes = page.eval_on_selector_all(".drawn path", BOXES)
    lines = [(x, y, w, h) for x, y, w, h in strokes if max(w, h) > 60]
    assert len(lines) == 9
    for x, y, w, h in lines:
        near = ink[round(y) - 1 : round(y + h) + 2, round(x) - 1 : round(x + w) + 2]
        assert near.any(axis=0 if w > h else 1).mean() > 0.9


def test_every_key_of_the_desk(page: Any, open_desk: Any) -> None:
    number = next(i for i, d in open_desk.demo.truth.items() if d.read == "0202")
    page.goto(f"{open_desk.base}/?id={number}")
    expected = [
        (("ArrowRight", "ArrowDown"), [0, 2, 1, 2]),
        (("ArrowUp",), [0, 2, 0, 2]),
        (("x",), [0, 2, None, 2]),
        (("o",), [0, 2, 0, 2]),
        (("ArrowLeft", "ArrowUp"), [0, 1, 0, 2]),
    ]
    press(page, "ArrowRight")
    for keys, frets in expected:
        press(page, *keys)
        assert drafted(page)["frets"] == frets, keys
    press(page, "+", "+")
    assert (drafted(page)["first_fret"], drafted(page)["frets"]) == (3, [0, 3, 0, 4])
    press(page, "-")
    assert drafted(page)["first_fret"] == 2
    press(page, "Shift+Digit2")
    assert drafted(page)["fingers"] == [None, 2, None, None]
    press(page, "Escape")
    assert drafted(page)["frets"] == [0, 2, 0, 2]
    press(page, "1")
    assert drafted(page)["frets"] == [0, 2, 1, 2]
    press(page, "Escape", "b")
    assert "only-photo" in page.get_attribute("#stage", "class")
    press(page, "b")
    assert "only-drawn" in page.get_attribute("#stage", "class")
    press(page, "h")
    assert page.get_attribute("body", "data-heard") == "62 64 67 71"
    press(page, "k")
    assert page.get_attribute("body", "data-heard") == "62 65 67 71"
    press(page, "p")
    page.wait_for_selector("#around .here")
    page.keyboard.press("Escape")
    assert not page.is_visible("#around .here")
    for key, address in (("v", "/many?shape="), ("m", "/pages/1?choose="), ("?", "/keys")):
        page.goto(f"{open_desk.base}/?id={number}")
        page.keyboard.press(key)
        page.wait_for_url(f"**{address}*")


def test_fields_take_typed_text(page: Any, open_desk: Any) -> None:
    number = next(i for i, d in open_desk.demo.truth.items() if d.read == "0313")
    page.goto(f"{open_desk.base}/?id={number}")
    texts = {"f": "0-5-3-5", "g": "-3-4", "l": "Cm", "i": "2", "r": "5", "t": "5"}
    for key, text in texts.items():
        press(page, key)
        page.keyboard.type(text)
        press(page, "Enter")
    draft = drafted(page)
    assert draft["frets"] == [0, 4, 2, 4, 0]
    assert draft["fingers"] == [None, 3, None, 4, None]
    assert (draft["label"], draft["first_fret"], draft["fret_count"], draft["tuning"]) == ("Cm", 2, 5, "banjo")
    press(page, "f")
    page.keyboard.type("02z2")
    press(page, "Enter")
    assert "'z' in the shape '02z2' is not a fret" in said(page)
    assert drafted(page) == draft


def test_dots_can_be_clicked(page: Any, open_desk: Any) -> None:
    number = next(i for i, d in open_desk.demo.truth.items() if d.read == "0202")
    page.goto(f"{open_desk.base}/?id={number}")
    for string, fret, frets in ((2, 1, [0, 2, 1, 2]), (0, 0, [None, 2, 1, 2]), (0, 0, [0, 2, 1, 2])):
        page.click(f'.cell[data-string="{string}"][data-fret="{fret}"]')
        press(page)
        assert drafted(page)["frets"] == frets
    press(page, "Enter")
    assert state(open_desk.library, number) == "0212 corrected"


def test_undo_and_redo_without_limit(page: Any, open_desk: Any) -> None:
    before = open_desk.states()
    numbers = []
    for key in ("Enter", "n", "Enter", "Enter"):
        numbers.append(shown(page))
        press(page, key)
    after = open_desk.states()
    assert after["unchecked"] == before["unchecked"] - 4
    for number in reversed(numbers):
        press(page, "z")
        assert shown(page) == number
    assert open_desk.states() == before
    press(page, "z")
    assert said(page) == "There is nothing to undo."
    press(page, "y", "y", "y", "y", "y")
    assert said(page) == "There is nothing to redo."
    assert open_desk.states() == after


def test_left_for_later_and_back_again(page: Any) -> None:
    first = shown(page)
    press(page, "Space")
    second = shown(page)
    assert second != first
    press(page, "Backspace")
    assert shown(page) == first


def test_filter_by_reason(page: Any, open_desk: Any) -> None:
    page.select_option("select[name=flag]", "two-marks")
    page.click(".filter button")
    press(page)
    assert page.url.endswith("flag=two-marks&id=6")
    assert "2 left under this filter, 10 in all" in page.inner_text(".progress")
    press(page, "Enter", "Enter")
    assert page.inner_text("h1") == "Nothing is left under this filter."
    page.click(".filter .clear")
    press(page)
    assert "8 left of" in page.inner_text(".progress")
    assert page.input_value("select[name=flag]") == ""
    assert not page.is_visible(".filter .clear")


def test_two_windows_lose_nothing(page: Any, open_desk: Any) -> None:
    other = page.context.new_page()
    number = shown(page)
    other.goto(f"{open_desk.base}/?id={number}")
    press(other, "ArrowRight", "ArrowDown")
    mine = drafted(other)["frets"]
    press(page, "Enter")
    press(other, "Enter")
    assert "decided in another window" in said(other)
    assert open_desk.library.sighting(number).state == "confirmed"
    assert (shown(other), drafted(other)["frets"]) == (number, mine)
    press(other, "Enter")
    assert list(open_desk.library.sighting(number).standing.frame.frets) == mine


def test_a_missed_diagram_is_drawn_in(page: Any, open_desk: Any) -> None:
    (page_id, corners) = next(iter(open_desk.demo.missed.items()))
    page.goto(f"{open_desk.base}/pages/{page_id}")
    page.wait_for_function("document.querySelector('#page img').complete")
    page.evaluate("() => document.querySelector('#page svg').scrollIntoView({block: 'end'})")
    ends = page.eval_on_selector("#page svg", ON_SCREEN, [list(corners[0]), list(corners[2])])
    page.mouse.move(*ends[0])
    page.mouse.down()
    page.mouse.move(*ends[1], steps=4)
    page.mouse.up()
    page.wait_for_url("**/?id=*")
    number = shown(page)
    assert number is not None
    assert open_desk.library.sighting(number).origin == "added"
    assert state(open_desk.library, number) == "0003 unchecked"
    press(page, "Enter")
    assert state(open_desk.library, number) == "0003 confirmed"
    press(page, "z", "z")
    assert number not in {s.id for s in open_desk.library.sightings()}


def test_boxes_with_the_keyboard_alone(page: Any, open_desk: Any) -> None:
    page.goto(f"{open_desk.base}/pages/1")
    press(page, "a", "ArrowRight", "ArrowDown", "Shift+ArrowRight")
    assert page.is_visible("#new-hint")
    page.keyboard.press("r")
    page.wait_for_url("**/?id=*")
    assert open_desk.library.sighting(shown(page)).origin == "added"


def test_split_and_merge(page: Any, open_desk: Any) -> None:
    page.goto(f"{open_desk.base}/pages/1?choose=1")
    page.keyboard.press("s")
    page.wait_for_url("**/?id=*")
    assert open_desk.library.sighting(1).state == "rejected"
    halves = [s.id for s in open_desk.library.sightings() if s.origin == "added"]
    assert len(halves) == 2
    page.goto(f"{open_desk.base}/pages/1")
    for number in halves:
        page.check(f'.listing input[data-id="{number}"]')
    page.click("#do-merge")
    page.wait_for_url("**/?id=*")
    assert [open_desk.library.sighting(i).state for i in halves] == ["rejected", "rejected"]
    press(page, "z", "z")
    assert open_desk.library.sighting(1).state == "accepted"


def test_many_at_once(page: Any, open_desk: Any) -> None:
    entry = next(e.id for e in open_desk.library.entries() if str(e.shape) == "2010")
    page.goto(f"{open_desk.base}/many?shape={entry}")
    page.wait_for_selector(".card")
    press(page, "a")
    due = [s.id for s in open_desk.library.sightings(SightingQuery(entry=entry, states=("unchecked",)))]
    assert page.inner_text("#chosen") == f"{len(due)} chosen"
    odd = next(i for i in due if open_desk.demo.truth[i].truth == "2210")
    page.click(f'.card[data-id="{odd}"]')
    page.click("#do-accept")
    press(page)
    assert page.inner_text("#chosen") == "0 chosen"
    assert {i: open_desk.library.sighting(i).state for i in due} == {
        i: "unchecked" if i == odd else "confirmed" for i in due
    }
    page.focus("#wall")
    press(page, "Home")
    page.keyboard.press("o")
    page.wait_for_url("**/?id=*")


def test_the_server_is_killed_in_the_middle(chromium: Any, demo: Demo) -> None:
    process = subprocess.Popen(
        [sys.executable, "-m", "cli.main", "review", str(demo.path), "--no-browser"],
        cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip
    try:
        assert process.stdout is not None
        page = chromium.new_context().new_page()
        page.goto(process.stdout.readline().strip())
        done = []
        for _ in range(3):
            done.append(shown(page))
            press(page, "Enter")
        os.kill(process.pid, signal.SIGKILL)
        process.wait()
        press(page, "Enter")
        assert "all decisions are kept" in said(page)
        page.context.close()
    finally:
        process.kill()
        process.communicate()
    with Library.open(demo.path) as library:
        assert [library.sighting(i).state for i in done] == ["confirmed"] * 3
        assert library.check() == []


def test_a_spot_check_finds_the_silent_error(page: Any, open_desk: Any) -> None:
    truth, library = open_desk.demo.truth, open_desk.library
    accepted = [s.id for s in library.sightings(SightingQuery(states=("accepted",)))]
    library.confirm([i for i in accepted[::2] if truth[i].read != "0230"], "mara")
    page.goto(f"{open_desk.base}/check")
    page.click("#do-draw-all")
    page.wait_for_selector("#answer")
    count = len(open_desk.desk.sample().drawn)
    for _ in range(count):
        page.wait_for_load_state()
        number = int(page.get_attribute(".fresh[data-id]", "data-id"))
        assert page.query_selector(".drawn") is None  # the drawing alone
        page.fill("#check-frets", truth[number].truth)
        with page.expect_navigation():
            page.keyboard.press("Enter")
            if truth[number].read == "0230":
                page.wait_for_selector(".compared")
                page.keyboard.press("1")
    assert (
        page.inner_text(".bound") == f"{100 / count:.3g} % of the accepted readings were wrong: every one was checked."
    )
    silent = next(i for i, d in truth.items() if d.read == "0230")
    assert state(open_desk.library, silent) == "0232 corrected"
    assert "Look at the rest of its page" in page.inner_text(".side")


def tab_numbers(page: Any) -> list[list[tuple[int, int | None]]]:
    draft = json.loads(page.get_attribute("#tab", "data-draft"))
    return [[(n["string"], n["fret"]) for n in e["notes"]] for e in draft["events"]]


def test_a_tab_is_corrected_on_its_picture(page: Any, open_desk: Any) -> None:
    page.goto(f"{open_desk.base}/tabs")
    assert page.inner_text("#place") == "Group 2 of 2, Line 4 (G)"  # the one in doubt
    press(page, "1", "2")
    assert tab_numbers(page)[1] == [(4, 12)]
    press(page, "g", "ArrowUp", "2", "Delete", "7")
    assert page.inner_text("#place") == "Group 2 of 2, Line 3 (C)"
    assert tab_numbers(page)[1] == [(3, 7), (4, 12)]
    press(page, "ArrowLeft")
    assert page.inner_text("#place") == "Group 1 of 2, Line 2 (E)"  # the number nearest to the line
    press(page, "x", "ArrowUp", "Backspace")
    assert tab_numbers(page)[0] == [(2, None)]
    press(page, "i", "5")
    assert tab_numbers(page) == [[(2, None)], [(1, 5)], [(3, 7), (4, 12)]]
    press(page, "s", "w", "q", "a")
    assert tab_numbers(page) == [[(2, None)], [(1, 5)], [(3, 7), (4, 12)]]
    with page.expect_navigation():
        page.keyboard.press("Enter")
    (tab,) = open_desk.library.tabs()
    assert tab.state == "corrected"
    assert [n.ghost for n in tab.standing.tab.events[2].notes] == [False, True]
    assert page.inner_text("main").endswith("No tab is left to look at.")
    with page.expect_navigation():
        page.keyboard.press("z")
    assert page.url.endswith(f"/tabs?id={tab.id}")
    assert open_desk.library.tab(tab.id).state == "unchecked"


def test_a_tab_is_corrected_with_the_mouse_and_in_its_table(page: Any, open_desk: Any) -> None:
    page.goto(f"{open_desk.base}/tabs")
    page.click('.cell[data-event="0"][data-string="3"]')
    page.fill("#number", "9")
    press(page, "Enter")
    area = page.locator("#stage .places").bounding_box()
    page.mouse.click(area["x"] + 0.8 * area["width"], area["y"] + area["height"] / 2)
    press(page)
    assert tab_numbers(page)[0] == [(1, 3), (2, 0), (3, 9)]
    assert tab_numbers(page)[2] == []
    page.click("#as-table summary")
    page.fill('#table [data-event="2"][data-string="4"]', "3")
    press(page, "Enter")
    assert tab_numbers(page)[2] == [(4, 3)]
    page.select_option("#tab-tuning", "ukulele-low-g")
    press(page)
    page.click("#do-back")
    page.wait_for_load_state()
    assert tab_numbers(page) == [[(1, 3), (2, 0)], [(4, None)]]


def test_a_tab_decided_in_two_windows(page: Any, open_desk: Any) -> None:
    page.goto(f"{open_desk.base}/tabs")
    number = int(page.get_attribute("#tab", "data-id"))
    open_desk.library.reject_tabs([number], "somebody else")
    press(page, "3", "Enter")
    assert "decided in another window" in said(page)
    assert open_desk.library.tab(number).state == "rejected"
    with page.expect_navigation():
        page.keyboard.press("Enter")
    assert open_desk.library.tab(number).standing.tab.events[1].notes[0].fret == 3


def test_the_numbers_lie_on_their_ink(page: Any, open_desk: Any) -> None:
    """Blink and fader work on a tab as on a diagram, and our lines lie where the lines were read."""
    page.goto(f"{open_desk.base}/tabs")
    (tab,) = open_desk.library.tabs()
    corners = np.array(tab.reading.corners)
    places = tab_places(corners, tab.reading.line_count)
    boxes = page.eval_on_selector_all(".system .wire", BOXES)
    wires = [(x, y, w) for x, y, w, h in boxes if w > h][: tab.reading.line_count]
    ends = places.in_picture(corners)
    assert [y for _, y, _ in wires] == pytest.approx(np.linspace(ends[0, 1], ends[3, 1], len(wires)), abs=0.1)
    assert all(x == pytest.approx(ends[0, 0], abs=0.1) for x, _, _ in wires)
    for key, shown_alone in (("b", "only-photo"), ("b", "only-drawn")):
        press(page, key)
        assert shown_alone in page.get_attribute("#stage", "class")
    press(page, ",", ",")
    assert page.eval_on_selector("#stage", "s => getComputedStyle(s.querySelector('.drawn')).opacity") == "0"
    press(page, ".", ".", ".", ".")
    assert page.eval_on_selector("#stage", "s => getComputedStyle(s.querySelector('.photo')).opacity") == "0"


def test_keys_lead_from_view_to_view(page: Any) -> None:
    for key, address in (
        ("S", "/many"),
        ("P", "/pages"),
        ("T", "/tabs"),
        ("C", "/check"),
        ("L", "/learn"),
        ("H", "/history"),
        ("D", "/"),
    ):
        page.keyboard.press(f"Shift+{key}")
        page.wait_for_url(f"**{address}")
    page.goto(page.url.rstrip("/") + "/many")
    page.keyboard.press("/")
    assert page.evaluate("document.activeElement.name") == "flag"


def test_every_key_on_a_button_is_listed(page: Any, open_desk: Any) -> None:
    """The list of keys is complete: whatever bears a key in some view stands in it."""
    page.goto(f"{open_desk.base}/keys")
    listed = set(page.eval_on_selector_all(".keys kbd", "all => all.map(e => e.textContent)"))
    shown_as = {"Enter": "↵", "Backspace": "⌫", "Delete": "⌦", "Escape": "Esc"}
    shown_as |= {"ArrowLeft": "←", "ArrowRight": "→", "ArrowUp": "↑", "ArrowDown": "↓"}
    borne = set()
    for view in ("/?id=3", "/many", "/pages/1?choose=1", "/tabs", "/check", "/learn", "/history"):
        page.goto(open_desk.base + view)
        borne |= set(page.eval_on_selector_all("[data-key]", "all => all.map(e => e.dataset.key)"))
    assert {shown_as.get(k, f"⇧ {k}" if k.isupper() else k) for k in borne if not k.isdigit()} - listed == set()


def test_plucked_strings_are_in_tune(page: Any) -> None:
    """Equal temperament at 440 Hz (ISO 16:1975); the strongest partial near the pitch is measured by its phase."""
    for midi in (45, 60, 69, 81):
        samples = np.array(
            page.evaluate(f"() => import('{static_address()}/sound.js').then((s) => [...s.pluck({midi}, 48000, 0.9)])")
        )
        tail = samples[4800:]
        spectrum = np.abs(np.fft.rfft(tail * np.hanning(len(tail)), 16 * len(tail)))
        wanted = 440 * 2 ** ((midi - 69) / 12)
        lines = np.fft.rfftfreq(16 * len(tail), 1 / 48000)
        near = (lines > wanted * 0.95) & (lines < wanted * 1.05)
        found = lines[near][spectrum[near].argmax()]
        assert abs(1200 * np.log2(found / wanted)) < 3, midi
