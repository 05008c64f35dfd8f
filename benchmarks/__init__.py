"""Benchmarks against general-purpose peers: each is a command, each writes its table under results/."""
