"""How fast: the platform's limits on sending, and pauses that grow while something fails."""

from collections import deque

from bot.ids import ChatId

# Telegram's FAQ for bots: about one message a second in a chat (short bursts pass), twenty a minute in a
# group, about thirty a second in all.
CHAT = (3, 3.0)
GROUP = (20, 60.0)
OVERALL = (30, 1.0)


class Window:
    """At most `count` sendings in any `seconds`."""

    def __init__(self, count: int, seconds: float) -> None:
        self._seconds = seconds
        self._times: deque[float] = deque(maxlen=count)

    def ready_at(self) -> float:
        """The moment (monotonic, s) from which one more may go."""
        full = len(self._times) == self._times.maxlen
        return self._times[0] + self._seconds if full else float("-inf")

    def note(self, now: float) -> None:
        """One goes now."""
        self._times.append(now)

    def forgettable(self, now: float) -> bool:
        """Whether none of the noted ones counts any more."""
        return not self._times or self._times[-1] + self._seconds <= now


class Pace:
    """The platform's limits for a chat, for a group (a negative chat id) and overall."""

    def __init__(self) -> None:
        self._overall = Window(*OVERALL)
        self._chats: dict[int, tuple[Window, ...]] = {}

    def ready_at(self, chat_id: ChatId) -> float:
        """The moment (monotonic, s) from which one more message may go to this chat."""
        windows = self._chats.get(chat_id, ())
        return max(window.ready_at() for window in (self._overall, *windows))

    def note(self, chat_id: ChatId, now: float) -> None:
        """A message goes to this chat now."""
        if chat_id not in self._chats:
            self._forget(now)
            self._chats[chat_id] = (Window(*CHAT), Window(*GROUP)) if chat_id < 0 else (Window(*CHAT),)
        for window in (self._overall, *self._chats[chat_id]):
            window.note(now)

    def _forget(self, now: float) -> None:
        for chat_id in [c for c, windows in self._chats.items() if all(w.forgettable(now) for w in windows)]:
            del self._chats[chat_id]


class Pauses:
    """Growing pauses: `first` seconds, then double each time, at most `longest`."""

    def __init__(self, first: float, longest: float = 30.0) -> None:
        self._first = first
        self._longest = longest
        self.count = 0

    def next(self) -> float:
        """The next pause in seconds."""
        pause = min(self._first * float(2 ** min(self.count, 32)), self._longest)
        self.count += 1
        return pause

    def over(self) -> bool:
        """It works again: starts from the first pause. True if there had been any."""
        had, self.count = self.count > 0, 0
        return had
