"""Pixels and ink: no music here."""
