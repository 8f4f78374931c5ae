"""Bytes to frames to figures, and back. No input or output, no clock.

``framing`` cuts a byte stream into frames, ``checks`` tells whole frames from damaged ones,
``fields`` and ``text`` read figures out of them. ``decoder`` joins the four as a monitor
description says; ``encoder`` does the same the other way round, for the simulator.

Standards bring their own frames: ``modbus`` finds requests and answers, ``polling`` leads the
conversation, ``registers`` plans it; ``gatt`` reads the characteristics of Bluetooth LE and
``gatt_stream`` the stream of them. ``stream`` picks the decoder for a description.
"""
