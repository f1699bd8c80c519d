"""Physics of air and wheel: arrays in, arrays out; no clock, no I/O, no database."""
