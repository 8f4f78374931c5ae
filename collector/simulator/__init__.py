"""The other side of the wire: an invented flatbed, its pack, its monitor and its faults.

Open ``season.py`` first (a season of finished logs) or ``live.py`` (an endless day); both stand on

- ``cell``, ``pack``, ``board``, ``charger``: what the pack does with given amps;
- ``route``, ``vehicle``, ``driving``: which amps a day on Quillet Isle asks for;
- ``display``: what the monitor shows of it;
- ``workday``, ``staged``: the days of the season, and the events staged in it as data;
- ``flatbed``, ``daylog``: the cart through its days, and a day as a log's table.

``voices`` turns shown values into a monitor's bytes, ``faults`` spoils them as scripted,
``terminal`` and ``player`` put them on a real pseudo-terminal. ``stage`` shows rows on monitors
that are asked or subscribed to: ``modbus_voice`` is a real Modbus server, ``ble_voice`` speaks
through ``bluez_peer``, a stand-in for Linux's Bluetooth on the ``private_bus``.

**Signs.** The monitor says minus for out of the pack, and so does every array in here.
All of it is invented; nothing here knows the analysis.
"""
