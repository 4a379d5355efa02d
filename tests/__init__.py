"""Tests, references and benchmarks."""
