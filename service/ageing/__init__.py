"""Rules of the trade on plain values; the time is an argument."""
