"""What one log answers: sign, charge, percent, resistance, distance, each by itself.

Nothing here knows of other logs. ``drive`` asks these questions together, ``season`` over years.
"""
