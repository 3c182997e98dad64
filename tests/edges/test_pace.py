"""The platform's limits, on a pretend monotonic clock. Numbers: Telegram's FAQ for bots."""

import pytest

from bot.edges.telegram.pace import Pace, Pauses


def send_all(pace: Pace, chats: list[int]) -> list[float]:
    """Sends in this order as soon as each may go; the moments."""
    now, moments = 0.0, []
    for chat_id in chats:
        now = max(now, pace.ready_at(chat_id))
        pace.note(chat_id, now)
        moments.append(now)
    return moments


def busiest(moments: list[float], seconds: float) -> int:
    """The most moments in any stretch of that length."""
    return max(sum(1 for other in moments if m <= other < m + seconds) for m in moments)


def test_a_private_chat_takes_a_short_burst_then_one_a_second() -> None:
    moments = send_all(Pace(), [5] * 12)
    assert moments[:3] == [0.0, 0.0, 0.0]
    assert busiest(moments, 3.0) == 3
    assert moments[-1] == pytest.approx(9.0)


def test_a_group_takes_twenty_a_minute() -> None:
    moments = send_all(Pace(), [-5] * 60)
    assert busiest(moments, 60.0) == 20
    assert busiest(moments, 3.0) == 3


def test_thirty_a_second_overall() -> None:
    moments = send_all(Pace(), list(range(1, 301)))
    assert busiest(moments, 1.0) == 30
    assert moments[-1] == pytest.approx(9.0)


def test_chats_that_fell_silent_are_forgotten() -> None:
    pace = Pace()
    send_all(pace, list(range(1, 3001)))
    assert len(pace._chats) < 200


def test_pauses_grow_to_a_limit_and_start_again() -> None:
    pauses = Pauses(1.0, longest=5.0)
    assert not pauses.over()
    assert [pauses.next() for _ in range(5)] == [1.0, 2.0, 4.0, 5.0, 5.0]
    assert pauses.over()
    assert pauses.next() == 1.0
