"""What may go wrong with a call to the platform, in kinds of our own: what each asks of whoever called."""

from bot.ids import ChatId


class PlatformError(Exception):
    """A call that came to nothing. Its text is what the platform said, or the kind of fault on the way; never the
    address, since the token is in it."""


class RetryAfterError(PlatformError):
    """Too many calls: the platform names the time to wait (s)."""

    def __init__(self, seconds: float) -> None:
        super().__init__(f"to be tried again after {seconds:g} s")
        self.seconds = seconds


class MovedError(PlatformError):
    """The chat goes on under a new id."""

    def __init__(self, new_chat_id: ChatId) -> None:
        super().__init__("the chat has a new id")
        self.new_chat_id = new_chat_id


class ForbiddenError(PlatformError):
    """The bot may not do this in that chat."""


class BadRequestError(PlatformError):
    """The platform takes the call for a mistake, or for one that makes no sense any more."""


class TokenRefusedError(PlatformError):
    """The platform does not know this bot: the token is wrong or was withdrawn."""

    def __init__(self, why: str = "the platform refuses the token") -> None:
        super().__init__(why)


class ConflictError(PlatformError):
    """Another program fetches updates with the same token."""


class NetworkFailedError(PlatformError):
    """The platform could not be reached, or failed itself."""


class NoAnswerError(NetworkFailedError):
    """No answer came in time."""


class UnreadableAnswerError(PlatformError):
    """An answer that cannot be read as a whole; `payload` is what came."""

    def __init__(self, payload: bytes) -> None:
        super().__init__("the answer cannot be read")
        self.payload = payload
