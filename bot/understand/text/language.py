"""The words of a language as data: a folder of files, one a subject."""

import tomllib
from functools import lru_cache
from pathlib import Path
from typing import Any

_FOLDERS = Path(__file__).parent.parent / "words"


def tables_of(language: str, reader: str) -> dict[str, Any]:
    """What the files of a language hold for one of their readers ("words", "forms"), whatever the subject; the English
    ones where the language is not known. Not to be changed: everybody gets the same."""
    known = language.isalpha() and (_FOLDERS / language).is_dir()
    tables: dict[str, Any] = _tables(language if known else "en")[reader]
    return tables


def file_of(language: str, name: str) -> Path:
    """A file of a language by its name; the English one where it has none."""
    source = _FOLDERS / language / name
    return source if language.isalpha() and source.is_file() else _FOLDERS / "en" / name


@lru_cache(maxsize=8)
def _tables(language: str) -> dict[str, Any]:
    whole: dict[str, Any] = {}
    for source in sorted((_FOLDERS / language).glob("*.toml")):
        add_tables(whole, tomllib.loads(source.read_text(encoding="utf-8")), source.name)
    return whole


def add_tables(whole: dict[str, Any], more: dict[str, Any], place: str) -> None:
    """Puts one file's tables to the others'; `place` names it. Raises ValueError where something is told twice."""
    for key, value in more.items():
        if key not in whole:
            whole[key] = value
        elif isinstance(value, dict) and isinstance(whole[key], dict):
            add_tables(whole[key], value, f"{place}: {key}")
        else:
            raise ValueError(f"{place}: {key} is told in another file already")
