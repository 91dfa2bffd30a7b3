"""Reads drawn chord diagrams and tabs into shapes that can be trusted."""
