"""Looks back from what the maker saw of a wheel to the climate before it."""
