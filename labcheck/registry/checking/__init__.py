"""Checking files that left, ours or not, for what no public reader catches."""
