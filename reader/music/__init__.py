"""Strings, frets, pitches and chord names: no pixels here."""
