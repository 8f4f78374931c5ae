"""Pure functions from telemetry to answers with honest intervals.

Start with ``telemetry`` (what every function takes) and ``estimate`` (what it gives back).
``one_log`` asks one question of one log, ``drive`` all of them; ``cells``, ``season`` and
``ahead`` read the digests of a logbook. Only ``load``, ``load_logbook``, ``asking`` and
``commands`` touch files.
"""
