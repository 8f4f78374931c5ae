"""Bytes to frames to figures, and back. No input or output, no clock.

``framing`` cuts a byte stream into frames, ``checks`` tells whole frames from damaged ones,
``fields`` and ``text`` read figures out of them. ``decoder`` joins the four as a monitor
description says; ``encoder`` does the same the other way round, for the simulator.
"""
