"""Draws samples and trains the networks; needs the ``training`` extra; no library code imports it."""
