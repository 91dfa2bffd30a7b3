"""``inkfret evaluate``: how good are the readings."""

from __future__ import annotations

import json
from collections.abc import Sequence
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from cli.console import say, show_progress
from cli.writing import write_files, write_whole
from reader.errors import InputError

if TYPE_CHECKING:
    from reader.evaluate.judge import PageOutcome
    from reader.evaluate.metrics import Scores
    from reader.evaluate.truth import TruePage
    from reader.evaluate.worst import Fault

BELOW_A_LIMIT = 1
DRAWN_UNLESS_TOLD = 20
"""Worst readings that --out draws when --worst does not say how many."""


def evaluate(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="Folder of pages with a truth.jsonl.")],
    readings: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Score these stored readings instead of reading the pages.")
    ] = None,
    truth: Annotated[Path | None, typer.Option(metavar="FILE", help="Truth file, by default DIR/truth.jsonl.")] = None,
    by: Annotated[
        str | None, typer.Option(metavar="FIELD", help="Also score pages by a field, or several: kind,hand.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print every figure as JSON.")] = False,
    as_markdown: Annotated[bool, typer.Option("--markdown", help="Print the table that README shows.")] = False,
    include_hard: Annotated[bool, typer.Option("--include-hard", help="Count diagrams marked hard too.")] = False,
    floors: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Fail when a figure is below (above) its limit in this file.")
    ] = None,
    worst: Annotated[
        int | None, typer.Option(metavar="N", min=0, help="List the N worst readings; with --out 20 unless told.")
    ] = None,
    out: Annotated[Path | None, typer.Option(metavar="DIR", help="Draw the worst readings into this folder.")] = None,
    save: Annotated[Path | None, typer.Option(metavar="FILE", help="Keep what was read, as JSON Lines.")] = None,
    definitions: Annotated[
        bool, typer.Option("--definitions", help="Print what every figure means, and measure nothing.")
    ] = False,
) -> None:
    """Compare readings with the truth and say how good they are."""
    from reader.evaluate import tables
    from reader.evaluate.metrics import group_pages, measure
    from reader.evaluate.worst import find_faults

    if definitions:
        print(tables.to_definitions())
        return
    pages = _load_truth(folder, truth, include_hard)
    outcomes = _judge_stored(pages, readings) if readings else _judge_read(pages, folder, save)
    fields = [f.strip() for f in (by or "").split(",") if f.strip()]
    groups = {k: measure(v) for k, v in group_pages(outcomes, fields).items()} if fields else {}
    total = measure(outcomes)
    if as_json:
        objects = {k: tables.to_object(v) for k, v in groups.items()}
        print(json.dumps({"all": tables.to_object(total)} | ({"by": objects} if fields else {}), indent=1))
    elif as_markdown:
        print(tables.to_markdown(groups | {"all": total}))
    else:
        print(tables.to_text({"all": total} | groups), tables.to_calibration_text(total), sep="\n\n")
    _say_failures(outcomes)
    _show_worst(find_faults(outcomes)[: worst if worst is not None else DRAWN_UNLESS_TOLD if out else 0], folder, out)
    if floors:
        _check_floors(floors, {"all": total} | groups)


def _load_truth(folder: Path, truth: Path | None, include_hard: bool) -> list[TruePage]:
    from reader.evaluate.truth import parse_truth

    path = truth or folder / "truth.jsonl"
    pages = parse_truth(_read_text(path).splitlines(), str(path))
    return [page.without_hard() for page in pages] if include_hard else pages


def _judge_stored(pages: list[TruePage], readings: Path) -> list[PageOutcome]:
    from reader.evaluate.judge import judge_pages
    from reader.evaluate.truth import parse_readings

    stored = parse_readings(_read_text(readings).splitlines(), str(readings))
    unknown = len(stored.keys() - {page.key for page in pages})
    if unknown:
        say(f"{readings}: {unknown} pages are not in the truth and were left out.")
    return judge_pages(pages, stored)


def _judge_read(pages: list[TruePage], folder: Path, save: Path | None) -> list[PageOutcome]:
    from reader.evaluate.judge import judge_pages
    from reader.evaluate.read import read_true_pages
    from reader.evaluate.truth import page_key
    from reader.pipeline import ReadSettings, read_page
    from reader.reading import to_line

    settings = ReadSettings()
    timed = list(
        show_progress(
            read_true_pages(pages, folder, lambda page: read_page(page, settings)), "Reading", total=len(pages)
        )
    )
    if save:
        write_whole(save, "".join(to_line(t.reading) + "\n" for t in timed).encode())
    return judge_pages(
        pages,
        {page_key(t.reading): t.reading for t in timed},
        {page_key(t.reading): t.seconds for t in timed if t.seconds is not None},
    )


def _say_failures(outcomes: Sequence[PageOutcome]) -> None:
    for outcome in outcomes:
        if outcome.reading is not None and outcome.reading.error is not None:
            say(f"{outcome.reading.source} page {outcome.reading.page} failed: {outcome.reading.error}")


def _show_worst(faults: Sequence[Fault], folder: Path, out: Path | None) -> None:
    for fault in faults:
        say(str(fault))
    if out is not None:
        pictures = _draw_faults(faults, folder)
        write_files(out, pictures)
        say(f"{len(pictures)} pictures are in {out}.")


def _draw_faults(faults: Sequence[Fault], folder: Path) -> dict[str, bytes]:
    """One PNG per fault by file name, numbered from the most harmful."""
    from PIL import Image

    from reader.evaluate.worst import faults_by_page
    from reader.image.pages import PageFile
    from reader.overlay import draw_diagram_report

    rank = {id(fault): i for i, fault in enumerate(faults, start=1)}
    pictures = {}
    for (source, number), on_page in faults_by_page(faults).items():
        with PageFile(folder / source) as file:
            page = file.page(number)
        for fault in on_page:
            png = BytesIO()
            Image.fromarray(draw_diagram_report(page, fault.truth, fault.reading)).save(png, "PNG")
            pictures[f"{rank[id(fault)]:03}-{fault.kind}-{Path(source).stem}-{number}.png"] = png.getvalue()
    return pictures


def _check_floors(path: Path, groups: dict[str, Scores]) -> None:
    from reader.evaluate.floors import parse_floors, unmet_limits

    sentences = unmet_limits(parse_floors(_read_text(path), str(path)), groups)
    for sentence in sentences:
        say(sentence)
    if sentences:
        raise typer.Exit(BELOW_A_LIMIT)


def _read_text(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8")
    except OSError as error:
        raise InputError(f"{path}: {error.strerror}. Give an existing file.") from error
    except UnicodeDecodeError as error:
        raise InputError(f"{path}: not a text file. Give JSON Lines or TOML in UTF-8.") from error
