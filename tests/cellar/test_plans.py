"""The generic plans hold the order of the trade."""

import pytest

from bot.cellar.plans.kits import Plan, built_in, plan_for, plan_of


@pytest.fixture(params=built_in(), ids=lambda plan: plan.key)
def plan(request: pytest.FixtureRequest) -> Plan:
    found: Plan = request.param
    return found


def test_there_are_plans_for_7_14_and_30_days() -> None:
    assert sorted({plan.days for plan in built_in()}) == [7, 14, 30]
    assert len({plan.key for plan in built_in()}) == len(built_in())
    newest = [plan_for(days) for days in (7, 14, 30)]
    assert [plan.key for plan in newest] == ["kit-7@2", "kit-14@2", "kit-30@2"]


def test_the_newest_plans_degas_several_times_and_hold_nobody_up() -> None:
    for days in (7, 14, 30):
        degas = plan_for(days).step("degas")
        assert (degas.times, degas.every_hours, degas.takes_hours) == (3, 4, 8)
        assert plan_of(f"kit-{days}@1", days).step("degas").times == 1


def test_chores_come_in_the_order_of_the_trade(plan: Plan) -> None:
    order = [step.does for step in plan.steps if step.does]
    first = {does: order.index(does) for does in order}
    wanted = ["sanitise", "mix", "gravity", "pitch", "rack", "stabilise", "degas", "fine", "bottle", "label"]
    assert sorted(wanted, key=lambda does: first[does]) == wanted


def test_gates_are_on_gravity_not_on_days_alone(plan: Plan) -> None:
    gates = {step.does or step.id: step.gate for step in plan.steps}
    assert gates["pitch"] == "og"
    assert gates["stabilise"] == gates["bottle"] == "settled"


def test_ids_are_unique_and_every_step_says_how(plan: Plan) -> None:
    ids = [step.id for step in plan.steps]
    assert len(set(ids)) == len(ids)
    assert all(step.how for step in plan.steps)


def test_waiting_fits_into_the_kits_own_days(plan: Plan) -> None:
    assert sum(step.wait_hours for step in plan.steps) < plan.days * 24


def test_the_yeast_is_pitched_warm_and_not_stirred_again(plan: Plan) -> None:
    assert plan.pitch_c == (20, 22)
    assert "do not stir again" in plan.step("pitch").how
    assert "half filled with water" in plan.step("pitch").how


def test_where_it_can_hurt_there_is_a_caution(plan: Plan) -> None:
    cautions = {step.id: step.caution for step in plan.steps}
    for step, word in (
        ("sanitise", "burn"),
        ("mix", "25 kg"),
        ("ferment", "carbon dioxide"),
        ("stabilise", "asthma"),
        ("bottle", "burst"),
    ):
        assert word in cautions[step]


@pytest.mark.parametrize(("days", "key"), [(5, 7), (7, 7), (10, 7), (11, 14), (14, 14), (22, 30), (42, 30)])
def test_a_kit_gets_the_nearest_plan(days: int, key: int) -> None:
    assert plan_for(days).days == key


def test_a_batch_keeps_the_plan_it_began_with() -> None:
    assert plan_of("kit-30@1", 7).key == "kit-30@1"
    assert plan_of(None, 7).days == 7


def test_a_step_that_is_not_there_is_an_error(plan: Plan) -> None:
    with pytest.raises(KeyError):
        plan.step("dance")
