"""Pure functions from telemetry to answers with honest intervals.

Start with ``telemetry`` (what every function takes) and ``estimate`` (what it gives back);
``drive`` puts the single answers about one log together. Only ``load`` and ``commands`` touch
files.
"""
