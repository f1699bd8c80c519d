"""How a space behaves: its rhythm, openings, water, drift, and where its air is going.

Asks the store and hands arrays to `service.science`; it judges nothing and writes nothing.
All of it is worked out up to a full step of twenty minutes of the readings' own time, from the
readings before it alone, so that asking again later gives the same.
"""
