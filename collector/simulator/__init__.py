"""The other side of the wire: invented vehicles, their packs, their monitors and their faults.

Open ``isle_books.py`` first (a logbook for each vehicle) or ``live.py`` (an endless day of the
flatbed); both stand on

- ``cell``, ``pack``, ``board``, ``charger``: what the pack does with given amps;
- ``route``, ``vehicle``, ``driving``: which amps a day on Quillet Isle asks for;
- ``display``: what the monitor shows of it;
- ``workday``, ``staged``: the days of the season, and the events staged in it as data;
- ``at_work``: a pack that is loaded, charged and shown, whatever it moves; ``flatbed``,
  ``carrier`` and ``punt`` are three that do; ``daylog``: a day as a log's table;
- ``season``, ``later_years``, ``typed``: the flatbed's three seasons and what was typed into them.

``voices`` turns shown values into a monitor's bytes, ``faults`` spoils them as scripted,
``terminal`` and ``player`` put them on a real pseudo-terminal. ``stage`` shows rows on monitors
that are asked or subscribed to: ``modbus_voice`` is a real Modbus server, ``ble_voice`` speaks
through ``bluez_peer``, a stand-in for Linux's Bluetooth on the ``private_bus``.

**Signs.** The monitor says minus for out of the pack, and so does every array in here.
All of it is invented; nothing here knows the analysis.
"""
