import random

import networkx
import pytest

from valuation.build.network import critical_path, working_order
from valuation.errors import PlanError


def random_network(seed, steps=12):
    rng = random.Random(seed)
    names = [f"s{i}" for i in range(steps)]
    before = {name: [names[j] for j in range(i) if rng.random() < 0.25] for i, name in enumerate(names)}
    return {name: rng.uniform(0, 5) for name in names}, before


@pytest.mark.parametrize("seed", range(20))
def test_the_critical_path_is_the_longest_path_of_networkx(seed):
    durations, before = random_network(seed)
    graph = networkx.DiGraph()
    graph.add_node("end")
    for step, names in before.items():
        graph.add_edge(step, "end", weight=durations[step])
        for name in names:
            graph.add_edge(name, step, weight=durations[name])
    path = critical_path(durations, before)
    longest = networkx.dag_longest_path_length(graph)
    assert path.length == pytest.approx(longest)
    assert sum(durations[step] for step in path.critical) >= longest - 1e-9
    for step, times in path.times.items():
        before_it = networkx.dag_longest_path_length(
            graph.subgraph(networkx.ancestors(graph, step) | {step}), default_weight=0
        )
        assert times.earliest_start == pytest.approx(before_it)
        through = before_it + max(
            networkx.path_weight(graph, way, "weight") for way in networkx.all_simple_paths(graph, step, "end")
        )
        assert times.slack == pytest.approx(longest - through)


def test_parts_hold_a_step_back():
    path = critical_path({"a": 2, "b": 1}, {"a": [], "b": []}, {"b": 4.0})
    assert path.length == 5
    assert path.critical == ("b",)
    assert path.times["a"].slack == 3


def test_the_order_follows_the_file_where_the_network_leaves_it_open():
    assert working_order({"b": [], "a": [], "c": ["a"]}) == ("b", "a", "c")


def test_a_circle_is_named_step_by_step():
    with pytest.raises(PlanError, match=r"in a circle: b after d after c after b. Take one of these out of 'after'"):
        working_order({"a": [], "b": ["a", "d"], "c": ["b"], "d": ["c"]})


def test_a_step_that_waits_for_itself_is_a_circle():
    with pytest.raises(PlanError, match=r"a after a"):
        working_order({"a": ["a"]})


def test_an_unknown_predecessor_is_named_with_the_nearest_step():
    with pytest.raises(PlanError, match=r"Step 'paint' comes after 'bodi', which is not a step.*Did you mean 'body'"):
        working_order({"body": [], "paint": ["bodi"]})


def test_an_empty_network_takes_no_time():
    assert critical_path({}, {}).length == 0
