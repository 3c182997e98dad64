"""What is offered when something is doubtful: the reason in a line, and what each button stands for."""

from collections.abc import Sequence

from bot.cellar.log.acts import Act, Gravity, Temperature, kind
from bot.understand.verdict import Doubt, Verdict

WHY = {
    Doubt.WHICH_BATCH: "nobody said which batch",
    Doubt.WHICH_VESSEL: "it is not clear which vessel",
    Doubt.UNKNOWN_VESSEL: "there is no such vessel here",
    Doubt.UNKNOWN_MEMBER: "there is nobody of that name here",
    Doubt.UNKNOWN_BATCH: "there is no such batch here",
    Doubt.OUT_OF_RANGE: "that number is out of range",
    Doubt.SLIPPED_DIGIT: "a digit may have slipped",
    Doubt.RISING: "gravity does not rise by itself",
    Doubt.FALLING_FAST: "that is a very fast fall",
    Doubt.OTHER_CURVE: "that fits another batch better",
    Doubt.SAMPLE_ALONE: "the temperature of a sample, without its gravity",
    Doubt.ODD_TEMPERATURE: "that is an odd temperature for wine",
    Doubt.ODD_DOSE: "that is far more than such a volume takes",
    Doubt.TOO_MANY_BOTTLES: "that is more bottles than are left",
    Doubt.VESSEL_BUSY: "that vessel is in use",
    Doubt.VESSEL_FULL: "there is wine in that vessel",
    Doubt.TOO_SMALL: "that does not fit in there",
    Doubt.FUTURE: "that time is still to come",
    Doubt.NOTHING_TO_CORRECT: "there is nothing in sight to correct",
    Doubt.HALF_UNDERSTOOD: "only a part of it was understood",
    Doubt.UNSURE: "it may not have been meant for the bot",
    Doubt.NAME_REFUSED: "that cannot be a name",
    Doubt.GIVE_UP: "a batch is not given up without a yes",
    Doubt.STRIKE_OUT: "it is not struck out without a yes",
    Doubt.TOO_LONG: "that is longer than it may be",
    Doubt.WHEN: "it does not say when",
    Doubt.WHAT: "it does not say of what",
    Doubt.PAST: "that time has passed",
    Doubt.OFTEN: "a reminder is for one time",
    Doubt.DANGER: "what is told beside it puts it in doubt",
    Doubt.WHICH_QUESTION: "it asks something, and may mean several",
    Doubt.KEEP_NOTE: "a remark, perhaps to be kept",
    Doubt.NO_ANSWER: "it asks something that is not known here",
    Doubt.THANKED: "thanks, or a greeting",
    Doubt.NOT_UNDERSTOOD: "it is for the bot, but not understood",
}

IGNORE = Verdict(verdict="ignore", why="people talking to each other")
NOT_UNDERSTOOD = Verdict(verdict="ask", why=WHY[Doubt.NOT_UNDERSTOOD], doubt=Doubt.NOT_UNDERSTOOD)


class Completed:
    """One draft with its act complete, or the choices that are open."""

    __slots__ = ("about", "acts", "choices", "doubt", "instead", "likely")

    def __init__(self, acts: list[Act]) -> None:
        self.acts = acts
        self.choices: list[Act] = []
        self.doubt: Doubt | None = None
        self.about: str | None = None
        self.likely: list[Act] = []
        self.instead: list[Act] | None = None
        """What is offered in place of the acts, which cannot be as they were said; nothing where it is empty."""


def options(settled: Sequence[Completed]) -> tuple[tuple[Act, ...], ...]:
    """What the buttons stand for: one whole list of acts each."""
    width = max((len(item.choices) for item in settled), default=0)
    if width:
        alike = next((item for item in settled if _of_one(item.choices)), None)
        if alike is not None:  # the same of one batch, into one vessel or another
            return tuple(
                tuple(act for item in settled for act in ([choice] if item is alike else item.acts))
                for choice in alike.choices
            )
        names = [act.of for item in settled for act in item.choices]
        ordered = list(dict.fromkeys(names))
        return tuple(
            tuple(
                act
                for item in settled
                for act in (
                    [choice for choice in item.choices if choice.of == name] if item.choices else item.acts
                )
            )
            for name in ordered
        )
    if any(item.instead == [] for item in settled):
        return ()
    said = tuple(act for item in settled for act in (item.instead or item.acts))
    if not said:
        return ()
    choices = [said]
    for index, item in enumerate(settled):
        for likely in item.likely:
            swapped: list[Act] = []
            for other_index, other in enumerate(settled):
                swapped += [likely] if other_index == index else other.acts
            choices.append(tuple(swapped))
    if sum(bool(item.likely) for item in settled) > 1:  # each may be the other's
        crossed = tuple(act for item in settled for act in (item.likely[:1] or item.acts))
        choices = [said, crossed, *choices[1:]]
    return tuple(dict.fromkeys(option for option in choices if option == said or not _twice(option)))


def _twice(option: Sequence[Act]) -> bool:
    """Whether two values of one kind are told of one batch."""
    told = [
        (type(act), act.of) for act in option if isinstance(act, Gravity | Temperature) and act.at is None
    ]
    return len(set(told)) < len(told)


def _of_one(choices: Sequence[Act]) -> bool:
    return len(choices) > 1 and len({choice.of for choice in choices}) == 1


def summary(acts: Sequence[Act]) -> str:
    kinds = [kind(act) for act in acts]
    names = sorted({act.of for act in acts if act.of})
    return " and ".join(dict.fromkeys(kinds)) + (f" of {', '.join(names)}" if names else "")
