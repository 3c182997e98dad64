"""The command `bucketside`: arguments only; heavy imports where they are used."""

import signal
import sys


def _leave(number: int, frame: object) -> None:
    """Until the bot serves, being told to stop ends the process at once, and well: nothing has begun."""
    raise SystemExit(0)


if sys.argv[1:2] == ["serve"]:  # before all that takes time
    signal.signal(signal.SIGTERM, _leave)
    signal.signal(signal.SIGINT, _leave)

import argparse  # noqa: E402 - after the signals
import os  # noqa: E402 - after the signals
from collections.abc import Sequence  # noqa: E402 - after the signals
from pathlib import Path  # noqa: E402 - after the signals
from time import time  # noqa: E402, TID251 - before anything is loaded: how long an earlier process lived is measured to here

BEGAN = time()


def main(argv: Sequence[str] | None = None) -> int:
    """Runs a subcommand and returns its exit status: 2 for wrong input or settings."""
    words = list(sys.argv[1:] if argv is None else argv)
    try:
        status = _run(words)
        sys.stdout.flush()
    except BrokenPipeError:  # whoever read us has had enough
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    return status


def _run(words: list[str]) -> int:
    if words[:1] == ["reckon"]:
        from bot.edges.reckon import run

        status, out, err = run(words[1:])
        for text, stream in ((out, sys.stdout), (err, sys.stderr)):
            if text:
                print(text, file=stream)
        return status
    given = _parser().parse_args(words)
    if given.command == "understand":
        return _understand(given.house, explain=given.explain)
    return _with_everything(given)


_UNDERSTANDS = """
An input line: {"text": "both at 21", "sent_at": "2026-03-04T19:30:00+00:00", "from": "ana", "chat": "wine"}

"open" in it says what the bot last asked or said in that chat, as one object or a list of them:

  {"kind": "options", "options": [[ACT], [ACT]]}         a question; each option is the acts that its button writes
  {"kind": "letter", "things": [THING, THING]}           a reminder: what is due
  {"kind": "letter", "things": [...], "action": "later"}  the question which of them is done, later, mine, release
  {"kind": "look", "of": ["plum"]}                       somebody was asked to look whether it has cleared
  {"kind": "number", "what": "bottles", "of": "plum"}    how many bottles, or "temperature": what the thermometer shows
  {"kind": "figures", "reckon": SUM, "keys": [KEY], "given": {KEY: VALUE}}  what a sum still lacks
  {"kind": "time", "wish": "remind me to buy corks"}     when to bring that up
  {"kind": "working"}                                    an answer with a working, for "why?"
  {"kind": "said", "of": "plum", "asked": "next"}        any other words: what they were about, what they answered

A THING is {"of": "plum", "step": "degas"}, or with "measure": "gravity" or "temperature" instead of a step, "buys": true
for bottles and corks, "about": "..." for what somebody asked for in their own words, "settled": true where it is seen
to already. An ACT is as in the output. Each of the above may have "minutes_ago", "replied": true where the message
replies to it, and "others": true where somebody else was asked.
"""


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="bucketside", description="A household makes wine from kits together, in one chat."
    )
    parser.add_argument("--version", action=_Version, help="print the version and end")
    commands = parser.add_subparsers(dest="command", required=True, metavar="COMMAND")
    trying = commands.add_parser("try", help="a chat in this terminal, or a conversation script")
    trying.add_argument("--data", type=Path, metavar="DIR", help="the data folder")
    trying.add_argument("--script", type=Path, metavar="FILE", help="play this conversation and end")
    commands.add_parser("serve", help="the bot on Telegram, until it is stopped")
    logging = commands.add_parser("log", help="print what was written down")
    logging.add_argument("--json", action="store_true", help="one JSON object a line")
    logging.add_argument("--household", metavar="NAME", help="only this household")
    forgetting = commands.add_parser("forget", help="take a household out, with all that it wrote down")
    forgetting.add_argument("--household", metavar="NAME", required=True, help="its name")
    forgetting.add_argument("--number", type=int, metavar="N", help="which one, where several have that name")
    forgetting.add_argument("--yes", action="store_true", help="without asking")
    understanding = commands.add_parser(
        "understand",
        help="what messages mean: JSON Lines in, JSON Lines out",
        epilog=_UNDERSTANDS,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    understanding.add_argument("--house", type=Path, required=True, metavar="HOUSE.json")
    understanding.add_argument("--explain", action="store_true", help="say how each message was read")
    commands.add_parser("reckon", help="a sum: NAME key=value ... [--json]", add_help=False)
    return parser


class _Version(argparse.Action):
    """Looks the version up only when it is asked for."""

    def __init__(self, option_strings: Sequence[str], dest: str, **kwargs: str) -> None:
        super().__init__(option_strings, dest, nargs=0, help=kwargs.get("help"))

    def __call__(self, parser: argparse.ArgumentParser, *_: object) -> None:
        from importlib.metadata import version

        print(f"bucketside {version('bucketside')}")
        parser.exit()


def _understand(house: Path, *, explain: bool) -> int:
    import json

    import msgspec

    from bot.understand import command
    from bot.understand.scene import scene_from_json

    try:
        scene = scene_from_json(json.loads(house.read_text(encoding="utf-8")))
    except (OSError, ValueError, TypeError, AttributeError, msgspec.ValidationError) as error:
        print(f"bucketside: the house file {house} cannot be used: {error}", file=sys.stderr)
        return 2
    for line in command(sys.stdin, scene, explain=explain):
        sys.stdout.write(line + "\n")
        sys.stdout.flush()
    return 0


def _with_everything(given: argparse.Namespace) -> int:
    from bot import wiring

    try:
        if given.command == "serve":
            return wiring.serve(BEGAN)
        if given.command == "log":
            return wiring.print_log(given.json, given.household)
        if given.command == "forget":
            return wiring.forget(given.household, given.number, sure=given.yes)
        if given.script is not None:
            return wiring.play_script(given.script, given.data)
        return wiring.try_it(given.data)
    except (wiring.SettingsError, wiring.StoreError) as error:
        print(f"bucketside: {error}", file=sys.stderr)
        return 2


if __name__ == "__main__":
    sys.exit(main())
