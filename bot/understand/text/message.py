"""A message with what is known around it: its spans, the house, who it replies to, whether it is for the bot."""

from collections.abc import Sequence
from copy import copy
from datetime import datetime, timedelta
from functools import lru_cache
from itertools import pairwise

from bot.understand.scene import Recent, ReplyTo, Scene
from bot.understand.text.asides import without_asides, without_bounds
from bot.understand.text.clauses import colours, members
from bot.understand.text.lexicon import Tag, lexicon
from bot.understand.text.names import Names, Target, Targets, names_of
from bot.understand.text.ordered import told_in_order
from bot.understand.text.scan import Token, scan, tidy
from bot.understand.text.small_words import small_words
from bot.understand.text.spans import Reader, Span
from bot.understand.text.split import vessels_listed

RECENT = timedelta(hours=2)
"""How long after an entry a correction can mean it."""

FRESH = timedelta(minutes=30)
"""How long after somebody else's entry a correction can mean it."""

MOST_TOKENS = 800
"""A message of more words and marks than this is no sentence that anybody wrote."""

MOST_NUMBERS = 30
"""A message with more numbers than this is a table or a list: nobody's readings."""


@lru_cache(maxsize=256)
def _reader(language: str, names: Names) -> Reader:
    return Reader(lexicon(language), names)


class Message:
    """Everything that the rules may look at."""

    def __init__(
        self,
        text: str,
        scene: Scene,
        sent_at: datetime,
        *,
        by: str | None,
        replying_to: ReplyTo | None,
        addressed: bool,
    ) -> None:
        self.text = tidy(text)
        self.scene = scene
        self.sent_at = sent_at
        self.by = by
        self.replying_to = replying_to
        self.words = lexicon(scene.language)
        self.small = small_words(scene.language)
        names = names_of(scene)
        self.targets = Targets(scene, names)
        self.tokens, slash = _without_address(scan(self.text), addressed=addressed)
        self.addressed = addressed or slash
        if len(self.tokens) > MOST_TOKENS:
            self.tokens = []
        self.spans: Sequence[Span] = _reader(scene.language, names).label(self.tokens)
        without_asides(self.spans, self.tokens, self.small.beside)
        without_bounds(self.spans, self.tokens, self.small, scene)
        _interjected(self.spans)
        vessels_listed(self.spans, names)
        colours(self.spans, scene)
        told_in_order(self.spans, self.tokens, self.text, self.small.order, scene)
        members(self.spans, scene)
        if slash and self.spans:
            self._slash_word()

    def copied(self) -> "Message":
        """The same message, to be read once more: whoever reads it may change its spans."""
        new = copy(self)
        new.spans = [span.copied() for span in self.spans]
        return new

    @property
    def anchored(self) -> bool:
        """Whether something beside the words says that the message is for the bot."""
        return self.addressed or (self.replying_to is not None and self.replying_to.of is not None)

    @property
    def replied(self) -> Target | None:
        """The batch or vessel that the message replies to."""
        return self.targets.named(self.replying_to.of if self.replying_to else None)

    @property
    def entry(self) -> Recent | None:
        """The entry that a correction means: the newest by the same person, or the one replied to; else the
        newest of all, while it is fresh."""
        if self.replying_to is not None and self.replying_to.told:
            return self.replying_to.told[0]
        recent = self.scene.recent or ()
        for entry in recent:
            if self.sent_at - entry.said_at > RECENT:
                break
            replying = self.replying_to
            replied = replying is not None and replying.of is not None and entry.act.of == replying.of
            if replied or (self.by is not None and entry.by == self.by):
                return entry
        newest = recent[0] if recent and self.by is not None else None
        return newest if newest is not None and self.sent_at - newest.said_at <= FRESH else None

    def only_polite(self) -> bool:
        """Whether there is nothing but thanks and the like in it."""
        return bool(self.spans) and all(
            span.is_("filler", "social") or span.is_("filler", "link") or span.kind == "mark"
            for span in self.spans
        )

    def is_table(self) -> bool:
        """Whether it holds more numbers than people write by hand."""
        return sum(span.qty is not None for span in self.spans) > MOST_NUMBERS

    def said(self, span: Span) -> str:
        """A span as written."""
        return self.text[self.tokens[span.lo].start : self.tokens[span.hi - 1].end]

    def words_of(self, spans: Sequence[Span]) -> str:
        """Several spans that follow each other, as written."""
        return self.text[self.tokens[spans[0].lo].start : self.tokens[spans[-1].hi - 1].end]

    def folds_of(self, spans: Sequence[Span]) -> list[str]:
        """The single words of several spans, folded."""
        return [token.fold for span in spans for token in self.tokens[span.lo : span.hi]]

    def _slash_word(self) -> None:
        """Gives the first word of a slash form its meaning as a question: "/next b2"."""
        if not self.spans or any(span.ref is None for span in self.spans[1:]):
            return
        for tag in self.words.tags(self.tokens[0].fold):
            if tag.kind == "slash":
                self.spans[0].tags = (Tag("question", tag.value, "plain"),)


def _interjected(spans: Sequence[Span]) -> None:
    """Takes from a "well" that only opens what is told the meaning of "we'll": a verb would follow that."""
    for span, after in pairwise(spans):
        both = span.is_("mood", "plan") and span.is_("filler", "link")
        opens = after.is_("mood", "subject") or after.is_("part", "lead")
        told = opens or after.kind in ("mark", "line", "time", "qty", "ref")
        if both and told:
            span.tags = tuple(tag for tag in span.tags if tag.kind != "mood")


def _without_address(tokens: Sequence[Token], *, addressed: bool) -> tuple[list[Token], bool]:
    """The tokens without a leading "@name" and the marks of a slash form, and whether it was one."""
    kept = list(tokens)
    slash = False
    if len(kept) > 1 and kept[0].fold == "/" and kept[1].glued and kept[1].kind == "word":
        slash = True
        end = 2
        if len(kept) > 3 and kept[2].fold == "@" and kept[2].glued:
            end = 4
            while end < len(kept) and kept[end].glued:
                end += 1
        kept = [kept[1], *kept[end:]]
    at = 0
    while at + 1 < len(kept):
        mention = kept[at].fold == "@" and kept[at + 1].kind == "word" and kept[at + 1].glued
        if mention and (at == 0 or addressed):
            end = at + 2
            while end < len(kept) and kept[end].glued and (kept[end].fold == "_" or kept[end].kind == "word"):
                end += 1
            del kept[at:end]
        else:
            at += 1
    return kept, slash
