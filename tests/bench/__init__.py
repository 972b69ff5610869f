"""Ratios of ours to a bare program, measured in one run on one machine: ``python -m tests.bench``.

Not collected by pytest: a time asserted in a test fails on somebody's busy machine. Take the ratios, not the
milliseconds.
"""
