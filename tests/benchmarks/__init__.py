"""Benchmarks: `python -m tests.benchmarks NAME`; never collected as tests."""
