"""Drawings in SVG made by the server, from plain values; the first thing a page shows."""
