"""Whose turn it is follows from what was agreed and from who did it last."""

from bot.cellar.home.due import due_for
from bot.cellar.home.turns import whose_turn
from bot.cellar.log.acts import Rota
from bot.cellar.log.fold import HouseView
from tests.cellar.batches import Story, fermented_out


def house_of(story: Story, *rotas: Rota) -> HouseView:
    return HouseView(batches=(story.view,), rotas=rotas)


def test_nothing_agreed_is_nobodys_turn() -> None:
    story = fermented_out()
    assert whose_turn(house_of(story), story.view, "rack") is None


def test_one_person_always_does_it_and_only_it() -> None:
    story = fermented_out()
    house = house_of(story, Rota(step="rack", people=("bo",)))
    assert whose_turn(house, story.view, "rack") == "bo"
    assert whose_turn(house, story.view, "degas") is None


def test_in_turn_it_is_the_one_after_the_last() -> None:
    story = fermented_out()
    doer = story.view.chores[-1].by
    house = house_of(story, Rota(people=(doer, "zoe")))
    assert whose_turn(house, story.view, "rack") == "zoe"
    first = house_of(story, Rota(step="rack", people=("zoe", doer)))
    assert whose_turn(first, story.view, "rack") == "zoe"  # nobody has racked yet: the first named


def test_the_more_exact_then_the_later_agreement_goes_first() -> None:
    story = fermented_out()
    general, exact = Rota(people=("zoe",)), Rota(step="rack", people=("bo",))
    assert whose_turn(house_of(story, exact, general), story.view, "rack") == "bo"
    ended = Rota(step="rack")
    assert whose_turn(house_of(story, general, exact, ended), story.view, "rack") is None


def test_what_is_due_names_whose_turn_it_is_and_reminds_them_before_all() -> None:
    story = fermented_out()
    house = house_of(story, Rota(step="rack", people=("bo",)))
    found = {due.step: due for due in due_for(story.view, house)}
    assert found["rack"].whose == "bo"
    assert found["rack"].at < found["claimer rack"].at < found["all rack"].at < found["matters rack"].at


def test_readings_have_turns_of_their_own() -> None:
    story = fermented_out()
    reader = story.view.readings[-1].by
    chores, readings = Rota(people=("kim",)), Rota(step="reading", people=(reader, "zoe"))
    assert whose_turn(house_of(story, chores), story.view, "reading") is None
    assert whose_turn(house_of(story, chores, readings), story.view, "reading") == "zoe"
    assert whose_turn(house_of(story, chores, readings), story.view, "rack") == "kim"
    assert whose_turn(house_of(story, readings), story.view, "rack") is None
