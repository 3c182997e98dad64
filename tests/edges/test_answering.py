"""What the edge makes of the house's answers and of its failures."""

import pytest

from bot.edges.telegram import service
from bot.house.talk import Incoming
from tests.edges.bench import Bench, buttons, wait_until


def _with_button(incoming: Incoming) -> list[dict[str, object]]:
    asked = incoming.text == "sg 1.050"
    return [{"html": "<b>Which</b> bucket?", "buttons": buttons("Bucket 1", "Bucket 2")}] if asked else []


def test_a_line_for_who_pressed_goes_with_the_acknowledgement(bench: Bench) -> None:
    bench.recording.answer = _with_button
    group = bench.world.group()
    bench.start()
    bench.world.say("ana", "sg 1.050", group)
    wait_until(lambda: bench.world.said(group), "asked")
    bench.recording.toast = "Somebody was quicker."
    bench.world.tap("bert", "Bucket 1", group)
    wait_until(lambda: bench.world.calls_of("answerCallbackQuery"), "acknowledged")
    (call,) = bench.world.calls_of("answerCallbackQuery")
    assert call.params["text"] == "Somebody was quicker."


def test_commands_are_offered_and_it_starts_without_them_too(bench: Bench) -> None:
    bench.options["commands"] = [("help", "what to write")]
    bench.world.fail("setMyCommands", 500)
    bench.world.say("ana", "sg 1.050", bench.world.group())
    bench.start()
    wait_until(lambda: bench.recording.handled, "started all the same")
    bench.stop()
    bench.start()
    wait_until(lambda: len(bench.world.calls_of("setMyCommands")) == 2, "offered")
    (offered,) = bench.world.calls_of("setMyCommands")[1].params["commands"]
    assert offered == {"command": "help", "description": "what to write"}


def test_what_cannot_even_be_read_is_set_aside(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(*given: object) -> None:
        raise ArithmeticError("odd")

    read = service.read_update
    monkeypatch.setattr(service, "read_update", fail)
    group = bench.world.group()
    bench.world.say("ana", "sg 1.050", group)
    bench.start()
    wait_until(lambda: bench.recording.done, "set aside")
    (why,) = bench.recording.done.values()
    assert why.startswith("not readable: ArithmeticError")
    monkeypatch.setattr(service, "read_update", read)
    bench.world.say("ana", "sg 1.040", group)
    wait_until(lambda: bench.recording.texts == ["sg 1.040"], "the next one handled")
