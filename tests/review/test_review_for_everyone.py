"""Every view for everybody: axe-core's rules, large type, a phone, the keyboard alone, both colour schemes."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from library_samples import make_page, make_reading

AXE = Path(__file__).resolve().parents[2] / "node_modules" / "axe-core" / "axe.min.js"
VIEWS = ("/", "/many", "/pages", "/pages/1?choose=3", "/tabs", "/check", "/learn", "/history", "/keys", "/?id=999")
SHOWN = "all => all.filter(e => e.getClientRects().length).map(e => e.id)"
ALL = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]}
COLOURS = {"runOnly": ["color-contrast", "link-in-text-block"]}
"""All that a dark screen can change."""


def violations(page: Any, rules: dict[str, Any]) -> list[str]:
    """What axe-core finds, one line each."""
    page.evaluate(AXE.read_text(encoding="utf-8"))
    found = page.evaluate("(rules) => axe.run(document, rules).then((r) => r.violations)", rules)
    return [f"{v['id']}: {n['html'][:120]} {n['failureSummary'][:200]}" for v in found for n in v["nodes"]]


@pytest.mark.skipif(not AXE.is_file(), reason="axe-core is not installed: npm install --no-save axe-core@4")
@pytest.mark.parametrize(("scheme", "rules"), [("light", ALL), ("dark", COLOURS)], ids=["light", "dark"])
def test_axe_finds_nothing(page: Any, open_desk: Any, scheme: str, rules: dict[str, Any]) -> None:
    page.emulate_media(color_scheme=scheme)
    found: dict[str, list[str]] = {}
    for view in VIEWS:
        page.goto(open_desk.base + view)
        found[view] = violations(page, rules)
    page.goto(f"{open_desk.base}/many")
    page.wait_for_selector(".card")
    found["cards"] = violations(page, rules)
    page.goto(f"{open_desk.base}/check")
    with page.expect_navigation():
        page.click("#do-draw-all")
    page.fill("#check-frets", "0005")
    page.keyboard.press("Enter")
    page.wait_for_selector(".compared")
    found["comparing"] = violations(page, rules)
    assert "\n".join(f"{view} {line}" for view, lines in found.items() for line in lines) == ""


@pytest.mark.parametrize(("width", "height"), [(390, 844), (640, 450)], ids=["phone", "zoom 200 %"])
def test_nothing_is_cut_off(page: Any, open_desk: Any, width: int, height: int) -> None:
    """At 200 % a window of 1280 pixels has 640 of the page's own; nothing needs scrolling sideways (WCAG 1.4.10)."""
    page.set_viewport_size({"width": width, "height": height})
    far = "/home/mara/papers of the third year/wednesday-afternoon-beginners-group-two-handout-with-corrections.png"
    added = open_desk.library.add_page(make_page(make_reading("0003", "C"), source=far), "f" * 64)
    for view in (*VIEWS, f"/?id={added.sighting_ids[0]}", f"/pages/{added.page_id}", f"/many?source={far}"):
        page.goto(open_desk.base + view)
        wide = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
        assert wide <= 0, view


def test_strings_speak(page: Any, open_desk: Any) -> None:
    """What a screen reader says of the strings, and of what was done."""
    number = next(i for i, d in open_desk.demo.truth.items() if d.read == "0202")
    page.goto(f"{open_desk.base}/?id={number}")
    heads = page.query_selector_all("[role=spinbutton]")
    assert [h.get_attribute("aria-label") for h in heads] == ["String 4 G", "String 3 C", "String 2 E", "String 1 A"]
    assert [h.get_attribute("aria-valuetext") for h in heads] == ["open", "at fret 2", "open", "at fret 2"]
    page.focus("[role=spinbutton].here")
    page.keyboard.press("ArrowRight")
    assert page.evaluate("document.activeElement.getAttribute('aria-label')") == "String 3 C"
    page.keyboard.press("ArrowDown")
    page.wait_for_selector("[aria-label='String 3 C'][aria-valuetext='at fret 3']")
    assert page.evaluate("document.activeElement.getAttribute('aria-label')") == "String 3 C"
    assert page.get_attribute("#said", "role") == "status"


def test_single_keys_can_be_switched_off(page: Any, open_desk: Any) -> None:
    """WCAG 2.1.4: who speaks or trembles may turn keys of one character off."""
    page.goto(f"{open_desk.base}/keys")
    page.uncheck("#single-keys")
    page.goto(open_desk.base)
    before = open_desk.states()
    page.keyboard.press("n")
    page.keyboard.press("1")
    page.wait_for_timeout(100)
    assert open_desk.states() == before


def test_every_action_can_be_reached_by_tab(page: Any) -> None:
    page.focus("body")
    reached = set()
    for _ in range(80):
        page.keyboard.press("Tab")
        reached.add(page.evaluate("document.activeElement.id"))
    wanted = page.eval_on_selector_all("main button[id], main input[id], main select[id]", SHOWN)
    assert set(wanted) <= reached


def test_motion_is_reduced_where_asked(page: Any) -> None:
    page.emulate_media(reduced_motion="reduce")
    page.keyboard.press("z")
    page.wait_for_selector("#said:not(:empty)")
    assert page.eval_on_selector("#said", "e => getComputedStyle(e).animationName") == "none"
