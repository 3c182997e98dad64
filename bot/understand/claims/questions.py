"""Clauses to questions, and "why?"."""

import msgspec

from bot.cellar.log.acts import Question
from bot.cellar.log.subjects import IsFinished, IsStuck, Matter, Named, Subject
from bot.understand.claims.drafts import Draft
from bot.understand.text import moods
from bot.understand.text.clauses import DEGREES, Clause, reads_gravity
from bot.understand.text.lexicon import lexicon
from bot.understand.text.names import Ref
from bot.understand.text.scan import scan, tidy
from bot.understand.text.spans import Span
from bot.understand.verdict import Doubt

# Where a clause could ask several things, the more telling one comes first.
_ORDER: tuple[Named, ...] = (
    "help",
    "chart",
    "abv",
    "ready_to_rack",
    "ready_to_bottle",
    "additions",
    "readings",
    "cost",
    "stock",
    "who",
    "temperature",
    "next",
    "finish_time",
    "overview",
    "stage",
)


def asks_why(text: str, language: str = "en") -> bool:
    """Whether the whole message is "why?", or another way to say it."""
    if len(text) > 60:
        return False
    words = [token.fold for token in scan(tidy(text)) if token.fold.isalnum()]
    return " ".join(words) in lexicon(language).why


def question(clause: Clause) -> Draft | None:
    """The question that a clause asks, if it is one the bot can answer."""
    asked = moods.asks(clause)
    spans = clause.spans
    about, score = _about(clause, asked=asked)
    if about is None:
        return None
    if about == "help" and not _only_help(clause):
        return None
    for span in spans:
        if (
            span.has("question")
            or span.has("topic")
            or span.has("step")
            or span.has("measure")
            or span.has("put")
        ):
            span.used = True
    refs = [] if about == "help" else _meant(clause)
    valued = about == "readings" and any(q is not None and reads_gravity(q) for q in clause.quantities)
    doubt = Doubt.UNSURE if valued else None
    if about == "stage" and any(ref.kind == "every" for ref in refs):
        about, refs = "overview", []
    return Draft(Question(subject=_subject(about, clause)), score, "nothing", refs=refs, doubt=doubt)


def _subject(about: Named, clause: Clause) -> Subject:
    """What is asked: a plain yes or no, where that is wanted."""
    if about in ("stage", "finish_time") and clause.means("question", "stuck"):
        return IsStuck()
    led = next(
        (span for span in clause.spans if not span.is_("filler", "link") and span.kind != "mark"), None
    )
    turned = led is not None and led.is_("mood", "aux")
    if about == "finish_time" and turned and clause.means("topic", "finished"):
        return IsFinished()
    return Matter(about=about)


def _meant(clause: Clause) -> list[Ref]:
    """The batches a question is about, without the vessel that something would go to."""
    return [
        span.ref
        for index, span in enumerate(clause.spans)
        if span.ref is not None
        and not (
            index and span.ref.kind == "vessel" and clause.spans[index - 1].is_("part", "into") and index > 2
        )
    ]


def _only_help(clause: Clause) -> bool:
    """Whether a cry for help is all there is: "help me lift the sofa" is for somebody else."""
    rest = [span for span in clause.spans if span.kind != "mark" and not span.is_("question", "help")]
    return all(
        any(span.has(kind) for kind in ("filler", "mood", "measure", "batchword", "begin")) for span in rest
    )


class _Asking(msgspec.Struct, frozen=True):
    """What in a clause may ask: words that ask by themselves (`plain`) or only with a name or in a question (`weak`),
    topics, a chore, and small words around them."""

    asked: bool
    plain: set[str]
    weak: set[str]
    topics: set[str]
    step: str | None
    who: bool
    when: bool
    past: bool
    turn: bool


def _about(clause: Clause, *, asked: bool) -> tuple[Named | None, float]:
    heard = _heard(clause, asked=asked)
    if heard is None:
        return None, 0.0
    found = _of_people_and_past(clause, heard)
    if found[0] is None:
        found = _of_chores_to_come(clause, heard)
    return found if found[0] is not None else _by_words(clause, heard)


def _heard(clause: Clause, *, asked: bool) -> _Asking | None:
    """None where the clause asks nothing of the bot."""
    spans = clause.spans
    tags = [tag for span in spans for tag in span.tags if tag.kind == "question"]
    plain = {tag.value for tag in tags if tag.form == "plain"}
    weak = {tag.value for tag in tags if tag.form == "weak"}
    if asked:
        weak |= {tag.value for tag in tags if tag.form == "asked"}
    if not asked and not plain and not (weak and (clause.refs or len(spans) == 1)):
        return None
    if not asked and any(span.qty is not None and reads_gravity(span.qty) for span in spans):
        plain -= {"stage", "finish_time", "temperature", "readings"}
        if not plain:
            return None
    if clause.means("mood", "request"):
        return None
    return _Asking(
        asked=asked,
        plain=plain,
        weak=weak,
        topics={tag.value for span in spans for tag in span.tags if tag.kind == "topic"},
        step=_step(clause),
        who="who" in weak or "who" in plain,
        when=any(span.is_("part", "when") for span in spans),
        past=any(span.is_("mood", "past") for span in spans),
        turn=any(span.is_("part", "whose") for span in spans),
    )


def _of_people_and_past(clause: Clause, heard: _Asking) -> tuple[Named | None, float]:
    """Who did or does something, what was put in, what it cost, whether a chore was done."""
    if not heard.asked:
        return None, 0.0
    plain, step, who, turn = heard.plain, heard.step, heard.who, heard.turn
    if not step and _moves(clause):
        return "ready_to_rack", 2.0
    if turn and step is None and not clause.refs:
        return "who", 1.5
    if who and (step is not None or turn or "readings" in plain):
        return "who", 2.0 if turn else 1.8
    if "additions" not in plain and _adds(clause):
        anyone = any(span.is_("part", "anyone") for span in clause.spans)
        return ("who", 1.8) if who and not anyone else ("additions", 1.8)
    if "cost" in plain or "cost" in heard.weak or "cost" in heard.topics:
        return "cost", 2.0
    put = clause.any("substance") and not clause.means("part", "future")
    if heard.past and put and "additions" not in plain:
        return "additions", 1.4
    if heard.past and step is not None and not _ready(clause.spans):
        return "stage", 1.4
    return None, 0.0


def _of_chores_to_come(clause: Clause, heard: _Asking) -> tuple[Named | None, float]:
    """Whether it is time to rack or bottle, and what comes next."""
    plain, step = heard.plain, heard.step
    if "ready_to_rack" in plain or "ready_to_bottle" in plain:
        return ("ready_to_rack" if "ready_to_rack" in plain else "ready_to_bottle"), 2.2
    if not heard.asked:
        return None, 0.0
    if step in ("rack", "bottle") and not heard.who and _may(clause):
        return ("ready_to_rack" if step == "rack" else "ready_to_bottle"), 2.0
    if step is not None and (heard.when or "next" in plain):
        return "next", 1.4
    if (step is not None or (clause.any("put") and clause.any("substance"))) and _may(clause):
        return "next", 1.4
    return None, 0.0


def _by_words(clause: Clause, heard: _Asking) -> tuple[Named | None, float]:
    """By the words that ask: the plain ones first, then what the clause is about, then the weak ones."""
    asked, plain, weak, spans = heard.asked, heard.plain, heard.weak, clause.spans
    if "much" in heard.topics and "abv" in plain:
        return "abv", 1.8
    for about in _ORDER:
        if about in plain and (
            asked or _opened(spans) or (len(clause.words()) <= 1 and not clause.quantities)
        ):
            return about, 2.0
    for about in ("finish_time", "next", "cost", "additions"):
        if asked and about in weak:
            return about, 0.9
    if asked and {"readings", "temperature", "stock"} & weak and clause.means("mood", "want"):
        return next(about for about in _ORDER if about in weak), 1.9
    if asked:
        found = _by_topic(clause, heard.topics, weak)
        if found[0] is not None:
            return found
    for about in _ORDER:
        if about in weak and about != "who" and (clause.refs or asked or len(spans) == 1):
            return about, 0.9
    return None, 0.0


def _by_topic(clause: Clause, topics: set[str], weak: set[str]) -> tuple[Named | None, float]:
    spans = clause.spans
    what = any(span.is_("mood", "ask") or span.is_("mood", "want") for span in spans[:3])
    if any(span.qty is not None and span.qty.unit in DEGREES for span in spans):
        return "temperature", 0.8
    if clause.means("measure", "temperature"):
        return "temperature", 1.4
    if any(clause.means("measure", name) for name in ("gravity", "ph", "acidity")):
        return ("readings", 1.6) if clause.refs or spans[0].is_("part", "whats") else (None, 0.0)
    if any(span.qty is not None and reads_gravity(span.qty) for span in spans):
        return ("readings", 0.6) if not clause.means("mood", "unreal") else (None, 0.0)
    if "strong" in topics:
        return "abv", 0.8
    if "cost" in topics:
        return "cost", 0.8
    if "stock" in topics and clause.refs:
        return "stock", 1.2
    if clause.refs and any(span.is_("part", "why") for span in spans):
        return "stage", 0.6
    was = any(span.is_("mood", "past") for span in spans)
    if what and clause.refs and was and not clause.any("step"):
        return "readings", 0.6
    if clause.means("topic", "upto") and clause.refs:
        return "stage", 0.8
    plainly = not clause.words() or moods.asks(clause, by_words=True)
    if (
        clause.means("topic", "well")
        and plainly
        and not moods.denied(clause)
        and clause.refs
        and not _step(clause)
    ):
        return "stage", 0.6
    percent = any(span.qty is not None and span.qty.unit == "percent" for span in spans)
    if percent and clause.refs:
        return "abv", 0.8
    if clause.refs and not clause.quantities and ("much" in topics or _any(spans)):
        return "stock", 0.8
    if "finish_time" in topics and (clause.refs or clause.any("batchword")):
        return "finish_time", 0.8
    if "stage" in topics and clause.refs and not any(span.is_("part", "might") for span in spans[:2]):
        return "stage", 0.8
    if "who" in weak and clause.refs and not clause.words():
        return "who", 0.8
    was = any(span.is_("mood", "past") for span in spans)
    if what and clause.refs and "stage" not in weak and (was or clause.means("topic", "readings")):
        return "readings", 0.6
    return None, 0.0


def _moves(clause: Clause) -> bool:
    """ "Can I move the plum to the demijohn": a batch, a verb of moving, and a vessel to go to."""
    vessels = [
        index
        for index, span in enumerate(clause.spans)
        if (span.ref is not None and span.ref.kind in ("vessel", "kind")) or span.has("vessel")
    ]
    led = any(span.is_("part", "into") for at in vessels for span in clause.spans[max(0, at - 3) : at])
    return led and clause.any("movable") and _may(clause) and any(ref.kind != "kind" for ref in clause.refs)


def _step(clause: Clause) -> str | None:
    for span in clause.spans:
        if span.has("step"):
            return span.value("step")
    return None


def _may(clause: Clause) -> bool:
    """ "Can we", "should I", "ready to", "be racked yet", "time to"."""
    return any(_modal(span) for span in clause.spans)


def _modal(span: Span) -> bool:
    return span.is_("part", "modal") or span.is_("topic", "ready") or span.is_("mood", "plan")


def _any(spans: list[Span]) -> bool:
    """ "Have we any rosé"."""
    return any(span.is_("part", "any") for span in spans)


def _opened(spans: list[Span]) -> bool:
    """Whether a question begins in the middle: "b2 1.011 what next"."""
    return any(span.opens and span.has("question", "plain") for span in spans)


def _ready(spans: list[Span]) -> bool:
    return any(span.is_("topic", "ready") or span.is_("question", "ready_to_rack") for span in spans)


def _adds(clause: Clause) -> bool:
    """ "Did we put campden in", "how much sulphite has gone in", "have we added"."""
    put = clause.any("put")
    future = any(span.is_("part", "future") for span in clause.spans)
    return (
        put
        and not future
        and (clause.any("substance") or any(span.is_("part", "what") for span in clause.spans))
    )
