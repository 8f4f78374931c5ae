"""Who leads and who lags among the cells, and why.

``curves``, ``slopes``, ``steady`` and ``features`` look at one log; ``story``, ``wiring`` and
``rest`` at a logbook; ``summary`` asks them all. ``joints`` is the arithmetic of a hot joint.
"""
