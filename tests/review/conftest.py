"""The demo library, a desk on it that really listens, and a browser; tests skip where there is none."""

from __future__ import annotations

import random
import shutil
import threading
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import pytest
from review_samples import Demo, Drawn, build_demo, reading_of

from reader.library.store import Library
from reader.reading import Reading
from reader.review.desk import Desk
from reader.review.server import address, create_app, open_socket

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
ARGUMENTS = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
]
TOKEN = "a-token-of-this-run"


def read_as_c(_: Any, corners: Any) -> Reading | None:
    """A stand-in for the reader of regions: a C in every box, nothing in very small ones."""
    points = tuple((float(x), float(y)) for x, y in corners)
    if points[1][0] - points[0][0] < 40:
        return None
    reading: Reading = replace(reading_of(Drawn("0003", "C"), points), flags=())
    return reading


@dataclass(frozen=True, slots=True)
class OpenDesk:
    """A desk that listens, and the library behind it."""

    desk: Desk
    demo: Demo
    port: int

    @property
    def library(self) -> Library:
        return self.desk.library

    @property
    def base(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    @property
    def entrance(self) -> str:
        return address(self.port, TOKEN)

    def states(self) -> dict[str, int]:
        return dict(self.library.summary().by_state)


@pytest.fixture(scope="session")
def demo_folder(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Demo]:
    folder = tmp_path_factory.mktemp("demo")
    return folder, build_demo(folder)


@pytest.fixture
def demo(demo_folder: tuple[Path, Demo], tmp_path: Path) -> Demo:
    folder, built = demo_folder
    shutil.copytree(folder, tmp_path / "studio")
    return replace(built, path=tmp_path / "studio" / built.path.name)


@pytest.fixture
def quiet_desk(demo: Demo) -> Iterator[OpenDesk]:
    """A desk that nobody listens at, for what needs no browser."""
    with Library.open(demo.path) as library:
        desk = Desk(library, read_as_c, who="mara", chance=random.Random(7))
        desk.order_queue()
        yield OpenDesk(desk, demo, 8123)


class Listening:
    """One server for all tests; each puts its own desk behind it."""

    def __init__(self, port: int) -> None:
        self.port = port
        self.app: Any = None

    async def __call__(self, scope: Any, receive: Any, send: Any) -> None:
        await self.app(scope, receive, send)


@pytest.fixture(scope="session")
def listening() -> Iterator[Listening]:
    import uvicorn

    with open_socket(0) as listener:
        front = Listening(int(listener.getsockname()[1]))
        server = uvicorn.Server(uvicorn.Config(front, log_level="error", lifespan="off", ws="none"))
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listener]})
        thread.start()
        yield front
        server.should_exit = True
        thread.join()


@pytest.fixture
def open_desk(quiet_desk: OpenDesk, listening: Listening) -> OpenDesk:
    listening.app = create_app(quiet_desk.desk, listening.port, TOKEN)
    return replace(quiet_desk, port=listening.port)


@pytest.fixture(scope="session")
def chromium() -> Iterator[Any]:
    playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
    if CHROMIUM is None:
        pytest.skip("there is no Chromium on this machine: apt-get install chromium")
    with playwright.sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        yield browser
        browser.close()


@pytest.fixture
def page(chromium: Any, open_desk: OpenDesk) -> Iterator[Any]:
    """A fresh window on the desk; whatever the script complains of fails the test."""
    context = chromium.new_context(viewport={"width": 1280, "height": 900})
    context.set_default_timeout(5000)
    window = context.new_page()
    complaints: list[str] = []
    window.on("pageerror", lambda error: complaints.append(str(error)))
    window.goto(open_desk.entrance)
    yield window
    context.close()
    assert complaints == []
