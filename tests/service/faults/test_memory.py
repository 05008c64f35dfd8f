"""Memory over two hundred estimates."""

from benchmarks.faults.memory import memory


def test_memory_stays_where_it_was_over_two_hundred_estimates(service, all_held):
    """Half a mebibyte in the run is as much as buffers still take; each estimate is about 30 kB of JSON."""
    memory(service, 60)
    all_held(memory(service, 200, most_per_thousand=8.0))
