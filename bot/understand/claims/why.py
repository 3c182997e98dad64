"""Whether a message asks for the working of an answer."""

from bot.understand.text.lexicon import lexicon
from bot.understand.text.scan import scan, tidy


def asks_why(text: str, language: str = "en") -> bool:
    """Whether the whole message is "why?", or another way to say it."""
    if len(text) > 60:
        return False
    words = [token.fold for token in scan(tidy(text)) if token.fold.isalnum()]
    return " ".join(words) in lexicon(language).why
