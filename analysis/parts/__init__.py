"""Parts of a vehicle checked at the pack's real volts and amps, each with its arithmetic.

Start with ``verdict`` (what a check gives back) and ``pack`` (the figures that checks use);
``listing`` reads a parts list and ``judged`` puts all verdicts together. Every other module is one
kind of part, or one law that several kinds need.
"""
