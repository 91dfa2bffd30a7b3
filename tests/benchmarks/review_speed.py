"""How quickly the review desk answers at 20,000 readings, in a real browser; run it, nothing is checked.

    PYTHONPATH=tests python tests/benchmarks/review_speed.py [FILE]

With a file name the library is kept there and used again. Each figure is from the key to the next frame that shows
what came of it, so that up to 17 ms are the screen's.
"""

from __future__ import annotations

import random
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
from library_samples import filled, frame_of, make_page, make_reading

from reader.image.cutouts import cut_diagram
from reader.library.store import Library
from reader.reading import Alternative, Flag, Reading

SIGHTINGS, ON_A_PAGE, SHAPES = 20_000, 100, 1_500
REPEATS, REST_MS = 100, 200
FLAGS = (
    Flag("faint-mark", "On string 2 the drawing reads as fret 2, but it may be open.", 2, 2),
    Flag("label-disagrees", "The label says G7; the dots spell Em7.", 2, 1),
    Flag("two-marks", "There is ink on the grid that no mark explains: check for a dot that was missed.", 1, 2),
    Flag("weak-grid", "This may not be a chord diagram at all: check whether it belongs here."),
)
LABELS = ("C", "Am7", "F#m", "G7", "Dm", "Bb", "E7", "Cmaj7", None)
PRESS = """async (key) => {
  const { inTurn } = await import(document.querySelector('script').src);
  const start = performance.now();
  document.getElementById('main').dispatchEvent(new KeyboardEvent('keydown', { key, bubbles: true }));
  await inTurn(() => null);
  await new Promise((drawn) => requestAnimationFrame(() => setTimeout(drawn)));
  return performance.now() - start;
}"""
FILTER = """async (flag) => {
  const { inTurn } = await import(document.querySelector('script').src);
  const start = performance.now();
  document.querySelector('.filter select').value = flag;
  document.querySelector('.filter').requestSubmit();
  await inTurn(() => null);
  await new Promise((drawn) => requestAnimationFrame(() => setTimeout(drawn)));
  return performance.now() - start;
}"""
SCROLL = """async (share) => {
  const start = performance.now();
  window.scrollTo(0, share * document.documentElement.scrollHeight);
  const cards = () => [...document.querySelectorAll('.part')].filter((p) => {
    const { top, bottom } = p.getBoundingClientRect();
    return bottom > 0 && top < innerHeight;
  });
  const drawn = () => new Promise((then) => requestAnimationFrame(() => setTimeout(then)));
  do await drawn();
  while (!cards().every((p) => p.children.length));
  return performance.now() - start;
}"""
LOADED = "performance.getEntriesByType('navigation')[0].domContentLoadedEventEnd"


def fill(library: Library) -> None:
    """Sheets of a large school: few shapes are seen often, many seldom; three in ten are flagged."""
    chance = random.Random(1)
    known = [
        "".join(chance.choice("0123x" if i else "0123") for i in range(4 + 2 * (n % 3 == 0))) for n in range(SHAPES)
    ]
    weights = [1 / (n + 1) for n in range(SHAPES)]
    ink = np.full((300, 300, 3), 245, np.uint8)
    ink[100:200:25, 100:200] = ink[100:200, 100:200:33] = 40
    crop = cut_diagram(ink, np.array([[100, 100], [200, 100], [200, 200], [100, 200]], float))

    def readings() -> Iterator[Reading]:
        for shape in chance.choices(known, weights, k=ON_A_PAGE):
            flags = tuple(chance.sample(FLAGS, chance.choice((1, 1, 2)))) if chance.random() < 0.3 else ()
            others = tuple(
                Alternative(frame_of(o), 0.1, "ink") for o in chance.sample(known, 4) if len(o) == len(shape)
            )
            reading = make_reading(shape, chance.choice(LABELS), flags, chance.uniform(0.3, 0.98 if flags else 1.0))
            yield replace(reading, alternatives=others, evidence={f"e{i}": 0.5 for i in range(20)})

    for number in range(1, SIGHTINGS // ON_A_PAGE + 1):
        page = make_page(*readings(), number=number, source=f"term {number % 9}.pdf")
        library.add_page(page, f"{number:064x}", [crop] * ON_A_PAGE)


def tell(name: str, times: list[float]) -> None:
    """Median, 95th percentile and longest."""
    times = sorted(times)
    high = times[min(len(times) - 1, int(0.95 * len(times)))]
    print(f"{name:<34} median {statistics.median(times):6.1f} ms   95 % {high:6.1f} ms   longest {times[-1]:6.1f} ms")


def time_desk(page: Any, base: str) -> None:
    """Each key of the desk, each kind of view."""
    chance = random.Random(2)

    def pressed(*keys: str) -> Callable[[int], float]:
        return lambda n: float(page.evaluate(PRESS, keys[n % len(keys)]))

    def opened(*addresses: str) -> Callable[[int], float]:
        def opens(n: int) -> float:
            page.goto(base + addresses[n % len(addresses)])
            return float(page.evaluate(LOADED))

        return opens

    steps: dict[str, tuple[str, Callable[[int], float]]] = {
        "later, next one": ("/", pressed(" ")),
        "keep, next one": ("/", pressed("Enter")),
        "not a diagram, next one": ("/", pressed("n")),
        "undo": ("/", pressed("z")),
        "redo": ("/", pressed("y")),
        "move a dot": ("/", pressed("ArrowDown", "ArrowRight", "ArrowUp")),
        "keep under a filter": ("/?flag=faint-mark", pressed("Enter")),
        "another filter": ("/", lambda n: float(page.evaluate(FILTER, ("two-marks", "faint-mark", "")[n % 3]))),
        "back one": ("/", pressed("Backspace")),
        "scroll the wall anywhere": ("/many", lambda _: float(page.evaluate(SCROLL, chance.random()))),
        "open the desk": ("/", opened("/", "/?id=77", "/?id=15000")),
        "filter the wall": ("/", opened("/many?flag=two-marks", "/many?label=c", "/many?state=unchecked")),
        "pages, one page": ("/", opened("/pages", "/pages/7")),
        "history": ("/", opened("/history")),
    }
    for name, (start, step) in steps.items():
        page.goto(base + start)
        page.wait_for_load_state("networkidle")
        tell(name, [rested(page, step, n) for n in range(REPEATS)])


def rested(page: Any, step: Callable[[int], float], number: int) -> float:
    """One step after the pictures of the one before have come."""
    page.wait_for_timeout(REST_MS)
    return step(number)


def main(path: Path) -> None:
    """Fill where needed, then open the desk and time it."""
    from playwright.sync_api import sync_playwright

    with filled(path, fill):
        pass
    start = time.perf_counter()
    command = [sys.executable, "-m", "cli.main", "review", str(path), "--no-browser"]
    desk = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
    try:
        assert desk.stdout is not None
        entrance = desk.stdout.readline().strip()
        print(f"open after {time.perf_counter() - start:.1f} s")
        with sync_playwright() as driver:
            found = shutil.which("chromium") or shutil.which("chromium-browser")
            browser = driver.chromium.launch(executable_path=found, args=["--headless", "--no-sandbox"])
            page = browser.new_page(viewport={"width": 1280, "height": 900})
            page.goto(entrance)
            time_desk(page, entrance.partition("/?")[0])
            browser.close()
    finally:
        desk.kill()
        desk.wait()


if __name__ == "__main__":
    if len(sys.argv) > 1:
        main(Path(sys.argv[1]))
    else:
        with tempfile.TemporaryDirectory() as folder:
            main(Path(folder) / "speed.inkfret")
