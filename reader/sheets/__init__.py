"""Printable pages for lessons."""
