"""Everything about one log: ``summary`` asks each question once, ``text`` and ``words`` say it."""
