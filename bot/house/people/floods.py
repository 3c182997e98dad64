"""Floods: more messages from one member than the bot could answer in time. All are taken in, one is answered."""

from collections import OrderedDict, deque
from collections.abc import Hashable
from datetime import datetime, timedelta
from typing import Literal

WITHIN = timedelta(minutes=1)
MOST = 20
"""Answers to one member in that time: as many as the platform lets a whole group have."""

_MEMBERS = 2_000

Tide = Literal["calm", "rising", "high"]


class Floods:
    """Counts each member's messages by when they were sent: what was said over three days while the bot was
    off is no flood. In memory on purpose: after a restart a flood may be answered once more."""

    def __init__(self) -> None:
        self._sent: OrderedDict[Hashable, deque[datetime]] = OrderedDict()
        self._high: set[Hashable] = set()

    def tide(self, who: Hashable, sent_at: datetime) -> Tide:
        """How it stands with one more message: `rising` is the first that is too many."""
        if not self._full(who, sent_at):
            return "calm"
        return "high" if who in self._high else "rising"

    def note(self, who: Hashable, sent_at: datetime) -> None:
        """That message was taken in."""
        if self._full(who, sent_at):
            self._high.add(who)
        else:
            self._high.discard(who)
        self._sent.setdefault(who, deque(maxlen=MOST)).append(sent_at)
        self._sent.move_to_end(who)
        while len(self._sent) > _MEMBERS:
            self._high.discard(self._sent.popitem(last=False)[0])

    def _full(self, who: Hashable, sent_at: datetime) -> bool:
        sent = self._sent.get(who)
        return sent is not None and len(sent) == MOST and sent_at - sent[0] < WITHIN
