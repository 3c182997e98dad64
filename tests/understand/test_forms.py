"""One look over all the forms tells as much as a look at each."""

import json
from datetime import datetime

import pytest

from bot.understand.forms.forms import read_form
from bot.understand.forms.notation import forms_of, wording
from tests.understand.labelled import FIXTURES, SENT_AT, house

MESSAGES = sorted(
    {
        json.loads(line)["text"]
        for path in sorted((FIXTURES / "messages").glob("[!a]*.jsonl"))
        for line in path.read_text(encoding="utf-8").splitlines()
        if line.strip()
    }
)


def test_what_has_a_form_is_seen_at_one_look() -> None:
    forms = forms_of("en")
    every = [form for name in forms.patterns for form in forms.named(name)]
    seen = 0
    for words in map(wording, MESSAGES):
        found = any(form.match(words) for form in every)
        assert forms.has(words) is found, words
        seen += found
    assert len(MESSAGES) > seen > 50


@pytest.mark.parametrize("text", ["washed bucket 1", "please, which buckets are free?"])
def test_a_form_is_read_with_or_without_what_opens_it(text: str) -> None:
    acts, unknown = read_form(text, house("harbour"), datetime.fromisoformat(SENT_AT))
    assert acts
    assert unknown is None
