"""Draws tablature samples and trains the two networks that find and read tab systems."""
