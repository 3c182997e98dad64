"""What is told of several wines at once, or of one by less than its name."""

from datetime import datetime

import pytest

from bot.cellar.log.acts import Act, Gravity, Temperature
from bot.understand import understand
from bot.understand.text.message import Message
from tests.understand.labelled import house
from tests.understand.tables import SENT_AT

NOW = datetime.fromisoformat(SENT_AT)


def told(text: str) -> tuple[Act, ...]:
    verdict = understand(text, house("harbour"), NOW, by="ana", addressed=True)
    return verdict.acts if verdict.verdict == "act" else ()


@pytest.mark.parametrize("text", ["plu 1.010 har 1.020", "pl 1.010, har 1.020", "1.010 plu, 1.020 har"])
def test_a_word_beside_a_figure_may_be_short_for_a_wine(text: str) -> None:
    assert told(text) == (Gravity(of="plum", sg=1.01), Gravity(of="harbour white", sg=1.02))


@pytest.mark.parametrize("text", ["pl drank", "har har, 3 of us"])
def test_it_is_short_for_none_away_from_a_figure_or_where_it_is_a_word(text: str) -> None:
    message = Message(text, house("harbour"), NOW, by="ana", replying_to=None, addressed=True)
    assert not [span.ref for span in message.spans if span.ref is not None and span.ref.kind == "batch"]


@pytest.mark.parametrize("text", ["both 21", "both at 21 now"])
def test_one_figure_is_how_warm_both_are(text: str) -> None:
    assert told(text) == (
        Temperature(of="plum", temp_c=21.0),
        Temperature(of="harbour white", temp_c=21.0),
    )


def test_a_number_after_a_vessel_is_another_only_where_the_house_can_have_it() -> None:
    def vessels(text: str) -> list[str]:
        message = Message(text, house("harbour"), NOW, by="ana", replying_to=None, addressed=True)
        return [span.ref.name for span in message.spans if span.ref is not None]

    assert vessels("buckets 1, 2 and 9") == ["bucket 1", "bucket 2", "bucket 9"]
    assert vessels("wren, b3, 23, 14 d") == ["bucket 3"]
