"""A group that became a supergroup while nobody told the bot, over real HTTP."""

from pathlib import Path

from sqlalchemy import text

from bot.house.desk import Desk
from bot.store.database import open_engine, sqlite_url
from bot.store.unit import Units
from tests.botapi.double import BotApi
from tests.edges.bench import Bench, wait_until


def test_the_first_sign_is_a_refused_letter_and_the_log_stays_one(api: BotApi, tmp_path: Path) -> None:
    units = Units(open_engine(sqlite_url(tmp_path / "house.db")))
    with Bench(api, Desk(units, timezone="UTC")) as bench:
        world, group = bench.world, bench.world.group("The cellar")
        bench.start()
        world.say("ana", "new batch: plum, red, 23 l in bucket 2, 14 day kit", group)
        wait_until(lambda: world.said(group), "begun")
        later = world.move_silently(group)
        world.say("ana", "sg 1.080 bucket 2", later)  # a reading under an id that nobody knows
        wait_until(lambda: world.said(later), "answered there")
        world.say("ana", "overview", group)  # written before the move: its answer cannot go to the old id
        wait_until(lambda: len(world.said(later)) == 2, "answered in the new chat")
    with units.engine.connect() as connection:
        rows = connection.execute(text("SELECT DISTINCT household_id, batch FROM log WHERE batch > 0")).all()
        houses = connection.execute(text("SELECT DISTINCT household_id FROM log")).all()
    assert len(houses) == 1
    assert len(rows) == 1, "the reading is of the batch that the house has"
    units.close()
