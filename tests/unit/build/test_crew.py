import itertools

import numpy as np
import pytest

from valuation.build.crew import crew_rules, crew_schedule
from valuation.build.network import critical_path
from valuation.errors import PlanError


def network(seed, steps=8):
    rng = np.random.default_rng(seed)
    ids = [f"s{i}" for i in range(steps)]
    before = {ids[i]: [ids[j] for j in range(i) if rng.random() < 0.25] for i in range(steps)}
    return ids, before, rng.uniform(0.5, 4, steps), rng.uniform(0, 3, steps), rng.integers(1, 3, steps)


def one(ids, before, people, crew, takes, parts, when_ready=None, done=None):
    rules = crew_rules(ids, before, people, crew, takes, when_ready)
    return crew_schedule(np.array([takes], float), np.array([parts], float), rules, done)


@pytest.mark.parametrize("seed", range(15))
def test_with_hands_enough_the_schedule_is_the_critical_path(seed):
    ids, before, takes, parts, people = network(seed)
    path = critical_path(dict(zip(ids, takes, strict=True)), before, dict(zip(ids, parts, strict=True)))
    schedule = one(ids, before, people, int(people.sum()), takes, parts)
    assert schedule.start[0] == pytest.approx([path.times[step].earliest_start for step in ids])
    critical = {ids[i] for i in np.flatnonzero(schedule.critical()[0])}
    assert critical <= set(path.critical)
    assert schedule.length[0] == pytest.approx(path.length)


@pytest.mark.parametrize("seed", range(15))
def test_nobody_works_on_two_things_nobody_idles_and_nothing_comes_too_early(seed):
    ids, before, takes, parts, people = network(seed)
    crew = 2
    schedule = one(ids, before, people, crew, takes, parts)
    start, finish = schedule.start[0], schedule.finish[0]
    assert finish - start == pytest.approx(takes)
    assert np.all(start >= parts - 1e-9)
    for i, step in enumerate(ids):
        assert all(start[i] >= finish[ids.index(name)] - 1e-9 for name in before[step])
    for moment in np.concatenate([start, finish]):
        at_work = (start <= moment + 1e-9) & (finish > moment + 1e-9)
        assert people[at_work].sum() <= crew
        for i, step in enumerate(ids):  # a step that could begin now has begun
            ready = max([parts[i], *(finish[ids.index(name)] for name in before[step])])
            if ready <= moment + 1e-9 < start[i] - 1e-9:
                assert people[at_work].sum() + people[i] > crew


def test_scenarios_do_not_touch_each_other():
    ids, before, takes, parts, people = network(3)
    rng = np.random.default_rng(0)
    many = takes * rng.uniform(0.5, 2, (40, len(takes)))
    rules = crew_rules(ids, before, people, 2, takes)
    together = crew_schedule(many, np.tile(parts, (40, 1)), rules)
    for i in range(40):
        alone = crew_schedule(many[i : i + 1], parts[None], rules)
        assert np.array_equal(together.finish[i], alone.finish[0])
        assert np.array_equal(together.waited_for[i], alone.waited_for[0])


@pytest.mark.parametrize("seed", range(10))
def test_a_step_left_out_takes_no_time_and_no_hands_and_passes_the_wait_on(seed):
    ids, before, takes, parts, people = network(seed, steps=6)
    rules = crew_rules(ids, before, people, 2, takes)
    for kept in itertools.product([False, True], repeat=6):
        done = np.array(kept)
        with_mask = crew_schedule(takes[None], parts[None], rules, done[None])
        zeroed = type(rules)(rules.before, np.where(done, people, 0), 2, rules.rank, rules.order_when_ready)
        by_hand = crew_schedule(np.where(done, takes, 0)[None], np.where(done, parts, 0)[None], zeroed)
        assert with_mask.length[0] == pytest.approx(by_hand.length[0])


def test_the_chain_that_fixes_the_end_goes_back_through_hands_and_stops_at_parts():
    # One person: a (3), then b (2). c waits for its parts until 10, then takes 1.
    ids, before = ["a", "b", "c"], {"a": [], "b": [], "c": []}
    by_hands = one(ids, before, [1, 1, 1], 1, [3, 2, 1], [0, 0, 0])
    assert by_hands.length[0] == 6
    assert by_hands.critical()[0].tolist() == [True, True, True]
    by_parts = one(ids, before, [1, 1, 1], 1, [3, 2, 1], [0, 0, 10])
    assert by_parts.length[0] == 11
    assert by_parts.critical()[0].tolist() == [False, False, True]


def test_parts_ordered_when_ready_come_after_the_steps_before():
    ids, before = ["a", "b"], {"a": [], "b": ["a"]}
    assert one(ids, before, [1, 1], 1, [3, 2], [0, 4]).length[0] == 6
    late = one(ids, before, [1, 1], 1, [3, 2], [0, 4], when_ready=[False, True])
    assert late.length[0] == 9
    assert late.critical()[0].tolist() == [True, True]


def test_work_done_elsewhere_needs_no_hands():
    ids, before = ["a", "b"], {"a": [], "b": []}
    assert one(ids, before, [1, 0], 1, [3, 3], [0, 0]).length[0] == 3


def test_a_step_for_more_people_than_there_are_is_refused():
    with pytest.raises(PlanError, match=r"Step 'a' needs 3 people at once and the crew is 2. Raise 'crew'"):
        crew_rules(["a"], {"a": []}, [3], 2, [1.0])


def test_no_steps_take_no_time():
    schedule = crew_schedule(np.empty((5, 0)), np.empty((5, 0)), crew_rules([], {}, [], 1, []))
    assert schedule.length.tolist() == [0.0] * 5
    assert schedule.critical().shape == (5, 0)
