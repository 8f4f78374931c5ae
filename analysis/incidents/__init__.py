"""What happened in a log and why: cut-outs, charges that ended early, a breaker and its heat.

Start with ``search``.
"""
