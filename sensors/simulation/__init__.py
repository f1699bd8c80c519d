"""The parts of the simulated cave: air, surfaces, wheels, boxes, sensors and the household.

It must know nothing of the service: its formulas are its own, so that the science of the
service is never tested against itself. `sensors.simulated` is the way in.
"""
