"""One name means one thing: whoever reads a class's name anywhere knows which one it is."""

import ast
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path

BOT = Path(__file__).parent.parent / "bot"


def _names(module: ast.Module) -> Iterator[str]:
    """Its classes, at any depth, and its own names for types."""
    for node in ast.walk(module):
        if isinstance(node, ast.ClassDef):
            yield node.name
    for statement in module.body:
        match statement:
            case ast.Assign(targets=[ast.Name(id=name)]) | ast.AnnAssign(target=ast.Name(id=name)):
                if name.lstrip("_")[:1].isupper() and not name.isupper():
                    yield name


def test_no_class_or_type_has_the_name_of_another() -> None:
    """Nor does an underscore tell two of them apart."""
    places: defaultdict[str, list[str]] = defaultdict(list)
    for path in sorted(BOT.rglob("*.py")):
        for name in _names(ast.parse(path.read_text(encoding="utf-8"))):
            places[name.lstrip("_")].append(str(path.relative_to(BOT)))
    assert len(places) > 300
    assert {name: where for name, where in places.items() if len(where) > 1} == {}
