"""The table of formats: every row works, on everything and on nothing."""

from __future__ import annotations

import io
import re

import pytest
from lxml import etree
from PIL import Image

from reader.errors import ExportError
from reader.export import FORMATS, export_collection, get_format
from reader.export.titles import file_stem
from reader.library.collection import Collection


@pytest.mark.parametrize("name", FORMATS)
def test_every_format_gives_files_with_safe_and_different_names(collection: Collection, name: str) -> None:
    files = get_format(name).load()(collection).files
    assert files
    assert all(re.fullmatch(r"[\w./-]+", path, re.ASCII) and ".." not in path for path in files)
    assert len({path.lower() for path in files}) == len(files)
    assert all(files.values())


@pytest.mark.parametrize("name", FORMATS)
def test_every_format_takes_an_empty_library(name: str) -> None:
    exported = get_format(name).load()(Collection("Nothing yet"))
    assert all(isinstance(data, bytes) for data in exported.files.values())


@pytest.mark.parametrize("name", FORMATS)
def test_every_format_gives_the_same_bytes_twice(collection: Collection, name: str) -> None:
    function = get_format(name).load()
    assert function(collection) == function(collection)


def test_all_at_once_keeps_every_note_with_its_format(collection: Collection) -> None:
    everything = export_collection(collection)
    parts = [get_format(name).load()(collection) for name in FORMATS]
    assert len(everything.files) == sum(len(p.files) for p in parts)
    assert len(everything.notes) == sum(len(p.notes) for p in parts)
    assert "musicxml: confidence" in " ".join(everything.notes)


def test_an_unknown_format_lists_what_there_is() -> None:
    with pytest.raises(ExportError, match=r"no export format 'docx': choose from json, csv, svg"):
        get_format("docx")


def test_one_drawing_per_shape(collection: Collection) -> None:
    files = export_collection(collection, ["svg", "png"]).files
    for collected in collection.entries:
        stem = file_stem(collected.entry)
        svg = etree.fromstring(files[f"svg/{stem}.svg"])
        assert svg.findtext("{*}title")
        assert svg.findtext("{*}desc")
        assert Image.open(io.BytesIO(files[f"png/{stem}.png"])).size[0] > 100
