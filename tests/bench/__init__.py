"""Benchmarks: ratios measured in one run, never timed tests."""
