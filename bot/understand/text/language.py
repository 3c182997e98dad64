"""The data files of a language: words and patterns."""

import tomllib
from pathlib import Path
from typing import Any


def tables_of(language: str, kind: str) -> dict[str, Any]:
    """What `LANGUAGE.toml`, with its folder and ending put in by `kind` ("words/{}.toml"), holds; the English
    file where the language is not known."""
    folder = Path(__file__).parent.parent
    source = folder / kind.format(language)
    if not language.isalpha() or not source.is_file():
        source = folder / kind.format("en")
    return tomllib.loads(source.read_text(encoding="utf-8"))
