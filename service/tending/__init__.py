"""The care that wheels get: what is due, gates and visits, from what the store holds."""
