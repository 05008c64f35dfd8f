"""Benchmark on simulated vintage-vehicle tables, whose true effects are known."""
