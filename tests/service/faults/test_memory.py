"""Memory over four hundred estimates."""

from benchmarks.faults.memory import memory


def test_memory_stays_where_it_was_over_four_hundred_estimates(service, all_held):
    """Buffers fill in the first two hundred; each estimate is about 30 kB of JSON, so that a leak of them shows."""
    memory(service, 200)
    all_held(memory(service, 400, most_per_thousand=8.0))
