"""JSON over HTTP, and who may ask."""
