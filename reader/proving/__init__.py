"""Whole test pages with known truth, drawn apart from everything that the networks learn from."""
