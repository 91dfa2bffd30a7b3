"""Files appear whole or not at all: everything is written beside its place and then moved there."""

from __future__ import annotations

import os
import zipfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

from reader.errors import ExportError

_ZIP_DATE = (1980, 1, 1, 0, 0, 0)
"""The earliest that the format knows: the same content makes the same file."""


def write_whole(path: Path, content: bytes) -> None:
    """Write one file.

    Raises
    ------
    ExportError
        When it cannot be written; an older file of that name is then still there.
    """
    with _clear_errors(path), _beside(path) as part:
        part.write_bytes(content)


def write_files(out: Path, files: Mapping[str, bytes]) -> None:
    """Write files into a folder, made when it does not exist, or into an archive when the name ends in .zip.

    Raises
    ------
    ExportError
        When something cannot be written.
    """
    if out.suffix.lower() == ".zip":
        _write_zip(out, files)
        return
    if out.is_file():
        raise ExportError(f"{out} is a file: name a folder, or a name that ends in .zip.")
    for name, content in files.items():
        path = out / name
        with _clear_errors(path):
            path.parent.mkdir(parents=True, exist_ok=True)
        write_whole(path, content)


def _write_zip(out: Path, files: Mapping[str, bytes]) -> None:
    with _clear_errors(out), _beside(out) as part, zipfile.ZipFile(part, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in files.items():
            archive.writestr(zipfile.ZipInfo(name, _ZIP_DATE), content, zipfile.ZIP_DEFLATED)


@contextmanager
def _beside(path: Path) -> Iterator[Path]:
    """A name in the same folder, moved to its place when all went well and taken away when not."""
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        yield part
        part.replace(path)
    finally:
        part.unlink(missing_ok=True)


@contextmanager
def _clear_errors(path: Path) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        raise ExportError(f"{path} cannot be written ({error.strerror or error}): choose another place.") from None
