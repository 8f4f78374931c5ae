"""A pack over a logbook: capacity, fade, resistance, use, drain, with what changed and when.

Start with ``summary``; every other module is one question over the digests of many logs.
"""
