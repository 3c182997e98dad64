"""What is said of an input that no sum can use."""

import re
from collections.abc import Iterator
from contextlib import contextmanager

import pytest

from bot.say.catalogue import refusal
from bot.science.limits import BadInput


@contextmanager
def refused(text: str) -> Iterator[None]:
    """The block is refused, and the words of it match this expression."""
    with pytest.raises(BadInput) as error:
        yield
    assert re.search(text, refusal(error.value)), refusal(error.value)
