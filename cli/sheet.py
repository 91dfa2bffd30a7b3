"""``inkfret sheet``: pages for lessons, from a library or from chords typed."""

from __future__ import annotations

import inspect
import os
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import wraps
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from cli.console import say
from reader.errors import ExportError, NotationError

if TYPE_CHECKING:
    from reader.export.drawing import Drawing
    from reader.music.chord import Chord
    from reader.sheets.book import Book
    from reader.sheets.page import SheetStyle

sheet_app = typer.Typer(
    help="Make pages for lessons: practice sheets, key charts, progressions, learning orders, cards.",
    no_args_is_help=True,
    add_completion=False,
)


class Names(StrEnum):
    """How notes are named."""

    english = "english"
    german = "german"
    solfege = "solfege"


class PaperName(StrEnum):
    """Paper that sheets are laid out for."""

    a4 = "a4"
    letter = "letter"


class Fingers(StrEnum):
    """Where finger numbers go."""

    inside = "in"
    below = "below"
    none = "none"


class Under(StrEnum):
    """What stands under the strings."""

    strings = "strings"
    notes = "notes"
    degrees = "degrees"
    none = "none"


class Flip(StrEnum):
    """The edge that the printer turns paper round."""

    long = "long"
    short = "short"


Chords = Annotated[list[str] | None, typer.Argument(metavar="CHORDS", help="Chords; by default all of the library.")]
Out = Annotated[Path, typer.Option(metavar="FILE", help="Where to write: .pdf, or .svg and .png with a file a page.")]
Title = Annotated[str | None, typer.Option(help="Heading of the sheet.")]


@dataclass(frozen=True, slots=True)
class Common:
    """The options of every sheet."""

    library: Annotated[Path | None, typer.Option(metavar="FILE", help="Take shapes from this library first.")] = None
    tuning: Annotated[str | None, typer.Option(metavar="TUNING", help="Id or open strings; by default ukulele.")] = None
    paper: Annotated[PaperName, typer.Option(help="Paper.")] = PaperName.a4
    names: Annotated[Names, typer.Option(help="How notes and chords are named, typed and printed.")] = Names.english
    fingers: Annotated[Fingers, typer.Option(help="Finger numbers: in the stops, below the strings, or none.")] = (
        Fingers.inside
    )
    under: Annotated[Under, typer.Option(help="Under the strings: their names, the notes, the degrees, nothing.")] = (
        Under.strings
    )
    left_handed: Annotated[bool, typer.Option("--left-handed", help="Mirror the diagrams.")] = False
    large: Annotated[bool, typer.Option("--large", help="Large print.")] = False

    @property
    def style(self) -> SheetStyle:
        """How the sheet is printed."""
        from reader.export.paper import get_paper
        from reader.music.label_style import LabelStyle
        from reader.sheets.page import SheetStyle

        labels = LabelStyle(real_accidentals=True, note_names=self.names.value)
        paper = get_paper(self.paper.value)
        return SheetStyle(paper, self.large, self.left_handed, self.fingers.value, self.under.value, labels)

    def book(self) -> Book:
        """Tuning and entries; a library without a named tuning is taken in the tuning that most of it is in."""
        from reader.music.tuning import default_tuning, get_tuning
        from reader.sheets.book import Book

        if self.library is None:
            return Book(get_tuning(self.tuning) if self.tuning else default_tuning(4))
        from reader.library.search import Query
        from reader.library.store import Library

        with Library.open(self.library, read_only=True) as opened:
            entries = tuple(opened.entries(Query(limit=None)))
        counted = Counter(entry.tuning for entry in entries).most_common(1)
        usual = get_tuning(counted[0][0]) if counted else default_tuning(4)
        return Book(get_tuning(self.tuning) if self.tuning else usual, entries)


def sheet_command(command: Callable[..., None]) -> Callable[..., None]:
    """Register a command that takes the options of every sheet, after its own, as one last argument."""
    own = list(inspect.signature(command, eval_str=True).parameters.values())[:-1]
    common = list(inspect.signature(Common, eval_str=True).parameters.values())

    @wraps(command)
    def run(**given: Any) -> None:
        command(**{p.name: given[p.name] for p in own}, common=Common(**{p.name: given[p.name] for p in common}))

    run.__signature__ = inspect.Signature([*own, *common])  # type: ignore[attr-defined]
    run.__annotations__ = {p.name: p.annotation for p in (*own, *common)}
    return sheet_app.command()(run)


@sheet_command
def practice(
    chords: Chords = None,
    out: Out = Path("practice.pdf"),
    variants: Annotated[int, typer.Option(min=0, max=6, help="Further shapes of each chord.")] = 2,
    blanks: Annotated[int, typer.Option(min=0, max=60, help="Empty grids to fill in.")] = 4,
    title: Title = None,
    common: Common = Common(),
) -> None:
    """Chords large, other ways to play them, grids to fill in, room for notes."""
    from reader.sheets.book import sheet_chord
    from reader.sheets.practice import PracticeSheet, draw_practice

    book = common.book()
    items = tuple(sheet_chord(c, book, most=variants + 1) for c in _chords(chords, book, common.names))
    sheet = PracticeSheet(items, book.tuning, title or "Practice sheet", variants, blanks, book.from_library)
    _write(draw_practice(sheet, common.style), out)


@sheet_command
def key(
    key: Annotated[str, typer.Argument(metavar="KEY", help="As in G, Bb, Em or 'F# minor'.")],
    out: Out = Path("key.pdf"),
    common: Common = Common(),
) -> None:
    """The chords of a key, what each does, and lighter stand-ins for the hard ones."""
    from reader.music.key import parse_key
    from reader.sheets.keychart import draw_key, key_chart

    style = common.style
    _write(draw_key(key_chart(parse_key(key), common.book(), style.labels), style), out)


@sheet_command
def progression(
    chords: Annotated[str, typer.Argument(metavar="TEXT", help="Chords or numerals: 'C Am F G7' or 'I vi IV V7'.")],
    key: Annotated[str | None, typer.Option(metavar="KEY", help="Key that numerals count in.")] = None,
    out: Out = Path("progression.pdf"),
    once: Annotated[bool, typer.Option("--once", help="Do not go round to the first chord again.")] = False,
    title: Title = None,
    common: Common = Common(),
) -> None:
    """Chords in order, in shapes with easy changes, and what each finger does."""
    from reader.music.key import parse_key
    from reader.sheets import progression as sheets

    style = common.style
    home = parse_key(key) if key else None
    sheet = sheets.progression(
        sheets.read_progression(chords, home, common.names.value),
        common.book(),
        home,
        title or "Chord progression",
        not once,
        style.labels,
    )
    _write(sheets.draw_progression(sheet, style), out)


@sheet_command
def order(
    chords: Chords = None,
    out: Out = Path("order.pdf"),
    title: Title = None,
    common: Common = Common(),
) -> None:
    """Chords in the order of learning, each with the reason why it comes now."""
    from reader.sheets.order import draw_order, learning_order

    style, book = common.style, common.book()
    sheet = learning_order(_chords(chords, book, common.names), book, title or "Learning order", style.labels)
    _write(draw_order(sheet, style), out)


@sheet_command
def cards(
    chords: Chords = None,
    out: Out = Path("cards.pdf"),
    flip: Annotated[Flip, typer.Option(help="The edge that the printer turns the paper round.")] = Flip.long,
    title: Title = None,
    common: Common = Common(),
) -> None:
    """Cards to cut out: the name in front, the shape behind."""
    from reader.sheets.book import sheet_chord
    from reader.sheets.cards import CardSheet, draw_cards

    book = common.book()
    items = tuple(sheet_chord(c, book, most=1) for c in _chords(chords, book, common.names))
    _write(draw_cards(CardSheet(items, book.tuning, title or "", flip.value), common.style), out)


# ---------------------------------------------------------------- what the commands share


def _chords(typed: Sequence[str] | None, book: Book, names: Names) -> tuple[Chord, ...]:
    from reader.sheets.book import book_chords
    from reader.sheets.progression import read_chord

    chords = tuple(read_chord(word, None, names.value) for word in typed or ()) or book_chords(book)
    if not chords:
        raise NotationError(
            f"There is no chord for {book.tuning.name}: name some, as in 'C Am F G7', or a library that holds them."
        )
    return chords


def _write(pages: Sequence[Drawing], out: Path) -> None:
    """Write the pages; a file is complete or not there."""
    from reader.sheets.output import to_files

    contents = to_files(pages, out.suffix.lstrip(".").lower() or "pdf")
    targets = [out] if len(contents) == 1 else [_numbered(out, n) for n in range(1, len(contents) + 1)]
    for target, content in zip(targets, contents, strict=True):
        _write_whole(target, content)
        print(target)
    diagrams = sum(len(page.grids) for page in pages)
    say(f"{diagrams} diagrams on {len(pages)} page{'s' if len(pages) != 1 else ''}.")


def _numbered(path: Path, number: int) -> Path:
    return path.with_name(f"{path.stem}-{number}{path.suffix}")


def _write_whole(path: Path, content: bytes) -> None:
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        part.write_bytes(content)
        part.replace(path)
    except OSError as problem:
        part.unlink(missing_ok=True)
        raise ExportError(f"{path} cannot be written ({problem.strerror}): choose another place with --out.") from None
