"""Who may import whom, and who may touch files, processes and databases. DEVELOPERS.md draws the same picture."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]

LAYERS: tuple[frozenset[str], ...] = (
    frozenset({"errors"}),
    frozenset({"image", "music"}),
    frozenset({"reading"}),
    frozenset({"confidence", "frames", "lexicon", "numbers_between", "page_habits", "written_fingers"}),
    frozenset({"weighing", "note_names"}),
    frozenset({"flags", "tab_opening", "tab_ways"}),
    frozenset({"interpret", "interpret_tabs", "library"}),
    frozenset({"export"}),
    frozenset({"pipeline", "overlay", "sheets"}),
    frozenset({"evaluate", "batch", "review"}),
    frozenset({"training", "proving", "benchmark"}),
    frozenset({"cli"}),
)
"""From the bottom up; a room may use the rooms below its own layer, never its neighbours."""

HEIGHT = {room: height for height, layer in enumerate(LAYERS) for room in layer}

BACKSTAGE = ("training", "proving", "benchmark")
"""Rooms that make models, pages and timings; they may do what they like with files."""

AT_THE_RIM: dict[str, str] = {
    "image/pages.py": "opens pictures",
    "image/pdf_pages.py": "opens PDFs",
    "image/engines.py": "loads the models, once",
    "music/tuning.py": "its own table of tunings",
    "confidence.py": "its own weights",
    "export/lettering.py": "its own letter shapes",
    "export/fonts/make_lettering.py": "makes the letter shapes anew",
    "batch.py": "many files in several processes",
}
RIM_ROOMS = ("library", "review")
"""Rooms that stand at the rim as a whole: one file with shapes, one page on this machine."""

WORLDLY_MODULES = frozenset({"sqlite3", "subprocess", "socket", "tempfile", "shutil", "multiprocessing", "uvicorn"})
WORLDLY_CALLS = frozenset(
    {
        *("open", "imread", "imwrite", "read_text", "read_bytes", "write_text", "write_bytes", "mkdir", "unlink"),
        *("urlopen", "FPDF_LoadDocument", "ProcessPoolExecutor", "readNetFromONNX", "InferenceSession"),
    }
)
IN_MEMORY_CALLS = frozenset({"Image.open"})
"""Looks like opening a file, but away from the rim it is given bytes: nobody there has a path."""


def modules() -> list[Path]:
    return sorted([*(ROOT / "reader").rglob("*.py"), *(ROOT / "cli").rglob("*.py")])


def room_of(path: Path) -> str | None:
    """The layer's name of a module; None for the package file of `reader` itself."""
    parts = path.relative_to(ROOT).with_suffix("").parts
    if parts[0] == "cli":
        return "cli"
    return None if parts[1] == "__init__" else parts[1]


def imported_names(path: Path) -> Iterator[str]:
    """Dotted names that a module imports, at the top or inside functions."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            assert node.level == 0, f"{path}: imports are written in full"
            yield node.module
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


def imported_rooms(path: Path) -> set[str]:
    names = [name.split(".") for name in imported_names(path)]
    rooms = {parts[1] for parts in names if parts[0] == "reader" and len(parts) > 1}
    return rooms | {"cli" for parts in names if parts[0] == "cli"}


def worldly_signs(path: Path) -> set[str]:
    """What a module imports or calls that reaches outside the process."""
    calls = [n.func for n in ast.walk(ast.parse(path.read_text(encoding="utf-8"))) if isinstance(n, ast.Call)]
    called = {ast.unparse(f) for f in calls if isinstance(f, ast.Name | ast.Attribute)} - IN_MEMORY_CALLS
    packages = {name.split(".")[0] for name in imported_names(path)}
    return packages & WORLDLY_MODULES | {name.rsplit(".", 1)[-1] for name in called} & WORLDLY_CALLS


def short(path: Path) -> str:
    return path.relative_to(ROOT / "reader").as_posix()


def test_every_module_has_a_layer() -> None:
    assert {room_of(path) for path in modules()} - {None} <= HEIGHT.keys()


def test_imports_go_downward_only() -> None:
    upward = {}
    for path in modules():
        room = room_of(path)
        height = HEIGHT[room] if room else -1
        found = sorted(other for other in imported_rooms(path) - {room} if HEIGHT[other] >= height)
        if found:
            upward[path.relative_to(ROOT).as_posix()] = found
    assert upward == {}


def test_music_knows_no_pixels() -> None:
    for path in (ROOT / "reader" / "music").rglob("*.py"):
        packages = {name.split(".")[0] for name in imported_names(path)}
        assert not packages & {"numpy", "cv2", "PIL", "skimage", "scipy"}, path


def test_only_the_rim_touches_the_world() -> None:
    inner = [p for p in modules() if room_of(p) not in {None, "cli", *BACKSTAGE, *RIM_ROOMS}]
    touching = {short(p): sorted(signs) for p in inner if (signs := worldly_signs(p))}
    assert {name: signs for name, signs in touching.items() if name not in AT_THE_RIM} == {}


def test_the_rim_lists_no_module_without_need() -> None:
    listed = [ROOT / "reader" / name for name in AT_THE_RIM]
    assert [short(path) for path in listed if path.is_file() and not worldly_signs(path)] == []


def test_database_calls_stay_in_the_library() -> None:
    elsewhere = [p for p in modules() if room_of(p) not in {"library", "training", "proving", "cli"}]
    assert [short(p) for p in elsewhere if "sqlite3" in set(imported_names(p)) and p.name != "batch.py"] == []
