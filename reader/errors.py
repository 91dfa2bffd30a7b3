"""The errors that a person may meet, each with the exit code of the command line.

    ReaderError                 1   (never raised itself)
    ├── NotationError           2   a shape, label, tuning or key that cannot be understood
    ├── InputError              3   a page that cannot be opened or used
    ├── LibraryError            4   a library that is busy, too new, missing or damaged
    ├── ExportError             5   something that a format cannot say, or a place that cannot be written
    └── ModelError              6   trained weights that are missing or do not fit

Exit codes without an error class: 0 done, 1 a bug in this program, 2 bad usage,
7 a batch that finished although some pages failed, 130 interrupted.

A message is one sentence: where, what, what next.
"""

from __future__ import annotations

from typing import ClassVar


class ReaderError(Exception):
    """Base of every error that carries a message for a person."""

    exit_code: ClassVar[int] = 1


class NotationError(ReaderError, ValueError):
    """A shape, label, tuning or key that cannot be understood."""

    exit_code: ClassVar[int] = 2


class InputError(ReaderError):
    """A page that cannot be opened or used."""

    exit_code: ClassVar[int] = 3


class LibraryError(ReaderError):
    """A library that is busy, too new, missing or damaged."""

    exit_code: ClassVar[int] = 4


class ExportError(ReaderError):
    """Something that a format cannot say, or a place that cannot be written."""

    exit_code: ClassVar[int] = 5


class ModelError(ReaderError):
    """Trained weights that are missing or do not fit."""

    exit_code: ClassVar[int] = 6


BATCH_HAD_FAILURES = 7
INTERRUPTED = 130
