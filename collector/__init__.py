"""Hears a battery monitor and keeps what it said. Knows no analysis and no screen.

Start with ``record`` (the vocabulary) and ``logfile`` (the log on disk); ``recorder`` joins a
source from ``sources`` to a log; ``frames`` turns bytes into figures as a description from
``monitors`` says.
"""
