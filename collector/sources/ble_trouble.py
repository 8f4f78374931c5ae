"""Why Bluetooth does not work, in words that lead to a fix.

The causes are those of bleak 3.1 (``bleak/exc.py``) and the names of D-Bus errors; where the fix
lies in a settings page or a command, it is told by the system that runs here.
"""

from __future__ import annotations

import sys
from typing import Final

from bleak.exc import (
    BleakBluetoothNotAvailableError,
    BleakBluetoothNotAvailableReason,
    BleakDBusError,
)

from ..errors import SourceUnavailable

_Reason = BleakBluetoothNotAvailableReason
#: How ``packhand check`` tells what is forbidden from what is not there.
NOT_ALLOWED: Final = "Bluetooth is not allowed"

_LINUX: Final = {
    _Reason.POWERED_OFF: "switch it on: 'bluetoothctl power on'",
    _Reason.NO_BLUETOOTH: "plug a Bluetooth adapter in; if one is in, 'rfkill list' tells whether "
                          "it is blocked",
    _Reason.DENIED_BY_SYSTEM: "a container or another person's session has no way to the system's "
                              "D-Bus: run packhand in your own session",
}
_MACOS: Final = {
    _Reason.POWERED_OFF: "switch it on in System Settings, 'Bluetooth'",
    _Reason.DENIED_BY_USER: "allow it for the terminal in System Settings, 'Privacy & Security', "
                            "'Bluetooth', then open the terminal anew",
    _Reason.DENIED_BY_UNKNOWN: "allow it for the terminal in System Settings, 'Privacy & Security',"
                               " 'Bluetooth', then open the terminal anew",
}
_WINDOWS: Final = {
    _Reason.POWERED_OFF: "switch it on in Settings, 'Bluetooth & devices'",
    _Reason.NO_BLUETOOTH: "plug a Bluetooth adapter in; if one is in, the Device Manager shows "
                          "whether its driver works",
}
_REMEDIES: Final = {"darwin": _MACOS, "win32": _WINDOWS}
_FOUND: Final = {
    _Reason.POWERED_OFF: ("Bluetooth is switched off", "switch it on"),
    _Reason.NO_BLUETOOTH: ("this computer has no Bluetooth, or it is blocked",
                           "plug a Bluetooth adapter in"),
    _Reason.NO_BLE_CENTRAL_ROLE: ("this Bluetooth adapter is too old for Low Energy",
                                  "plug another one in, of version 4.0 or newer"),
    _Reason.DENIED_BY_USER: (NOT_ALLOWED, "allow it for the terminal in the system's settings"),
    _Reason.DENIED_BY_SYSTEM: (NOT_ALLOWED, "ask who runs this computer"),
    _Reason.DENIED_BY_UNKNOWN: (NOT_ALLOWED, "allow it for the terminal in the system's settings"),
    _Reason.UNKNOWN: ("Bluetooth does not answer",
                      "wait a moment; then switch it off and on again"),
}
#: Names of D-Bus errors by what they mean.
_FORBIDDEN: Final = "AccessDenied"
_NO_SERVICE: Final = ("ServiceUnknown", "NameHasNoOwner", "Spawn.")
_START: Final = {
    "darwin": "switch Bluetooth off and on again in System Settings",
    "win32": "switch Bluetooth on in Settings, 'Bluetooth & devices'; the Device Manager shows "
             "whether its adapter works",
}


def unavailable(name: str, error: BaseException, platform: str = sys.platform) -> SourceUnavailable:
    """Why there is no connection to ``name``, and what to do about it."""
    return SourceUnavailable(name, *_explained(error, platform))


def reason(error: BaseException) -> str:
    """The cause in the system's or the library's own words, one line."""
    if isinstance(error, OSError) and error.strerror:
        return error.strerror
    return str(error).partition("\n")[0] or type(error).__name__


def _explained(error: BaseException, platform: str) -> tuple[str, str]:
    if isinstance(error, BleakBluetoothNotAvailableError):
        found, remedy = _FOUND.get(error.reason, _FOUND[_Reason.UNKNOWN])
        return found, _REMEDIES.get(platform, _LINUX).get(error.reason, remedy)
    if isinstance(error, TimeoutError):
        return "no connection in time", "come nearer, and try once more"
    called = error.dbus_error if isinstance(error, BleakDBusError) else ""
    if _FORBIDDEN in called:
        return NOT_ALLOWED, ("join the group that may: 'sudo usermod -a -G bluetooth $USER', then "
                             "log out and in again")
    if isinstance(error, OSError | EOFError) or any(each in called for each in _NO_SERVICE):
        start = _START.get(platform, "start it: 'sudo systemctl start bluetooth'")
        return f"no Bluetooth service ({reason(error)})", start
    return (f"no connection ({reason(error)})",
            "come nearer, close other programs that may hold it, try once more")
