"""Why a serial port does not open or went away, in words that lead to a fix.

pyserial raises one exception for all causes. On Linux and macOS the system's number is in it or
in the error behind it. On Windows it stands only in the words, as ``OSError(22, "...", None, 31)``;
the last number, Windows' own, tells more than the class: a driver that does not answer is a
``PermissionError`` there, too. [1]_

.. [1] pyserial 3.5, ``serialwin32.py`` and ``serialposix.py``; Microsoft, "System Error Codes".
"""

from __future__ import annotations

import errno
import re
import sys
from pathlib import Path
from typing import Final

from .serial_ports import permission_remedy, port_holder

_LIST: Final = "'packhand ports' lists what is there"
_AGAIN: Final = "unplug it, plug it in again, and try once more"
#: The message and Windows' own number in the words of an exception.
_WINDOWS: Final = re.compile(r"Error\(\d+, (['\"])(?P<words>.*?)\1, None, (?P<number>\d+)\)")
#: Windows' numbers by what stands for the same elsewhere.
_SAME: Final = {2: errno.ENOENT, 3: errno.ENOENT, 5: errno.EBUSY, 32: errno.EBUSY,
                31: errno.EIO, 87: errno.EINVAL, 121: errno.ETIMEDOUT, 433: errno.ENODEV,
                1167: errno.ENODEV}
_GONE: Final = (errno.EIO, errno.ENXIO, errno.ENODEV)
#: Where a person sees whether the computer knows an adapter, by platform.
_SEEN: Final = {
    "win32": "the Device Manager shows it under 'Ports'; a yellow mark there means that its driver "
             "is missing: install the one of the adapter's maker",
    "darwin": "System Settings, 'Privacy & Security', may ask to allow its driver or accessory",
    "linux": "'sudo dmesg | tail' shows whether this computer has seen it",
}


def explained(name: str, error: BaseException, platform: str = sys.platform) -> tuple[str, str]:
    """What was found at a port that does not open, and what to do about it."""
    device, number, words = Path(name), system_number(error), reason(error)
    if "://" in name:
        found = f"no connection ({words})", "check the address, and that the other side is running"
    elif number == errno.ENOENT:
        found = "no such port", _LIST
    elif number in (errno.EACCES, errno.EPERM):
        found = "no permission", permission_remedy(device, platform)
    elif number in (errno.EBUSY, errno.EAGAIN):
        found = _busy(port_holder(device), platform)
    elif device.exists() and not device.is_char_device() and platform != "win32":
        found = "a file or folder, not a serial port", _LIST
    elif number == errno.ENOTTY:
        found = "not a serial port", _LIST
    elif number == errno.EINVAL:
        found = (f"it does not take these settings of the line ({words})",
                 "check baud, bits, parity and stop bits in the monitor's description")
    elif number == errno.ETIMEDOUT:
        found = (f"nothing answers behind it ({words})",
                 "it may be a port of a Bluetooth device that is away: switch that on, or choose "
                 "another port")
    elif number in _GONE:
        found = f"the adapter does not answer ({words})", f"{_AGAIN}; {where_seen(platform)}"
    else:
        found = f"cannot be opened ({words})", _AGAIN
    return found


def _busy(holder: str, platform: str) -> tuple[str, str]:
    found = f"busy: {holder or 'another program'} has it open"
    if holder.startswith("ModemManager"):
        return found, ("wait half a minute, it tries each new port; if it stays, 'sudo systemctl "
                       "stop ModemManager'")
    if platform == "win32":
        return found, "close that program first; if there is none, unplug the adapter and back in"
    return found, "close that program first"


def where_seen(platform: str = sys.platform) -> str:
    """Where a person sees whether the computer knows a plugged-in adapter."""
    return _SEEN.get(platform, _SEEN["linux"])


def system_number(error: BaseException) -> int | None:
    """The system's error number as it is called on Linux; ``None`` if there is none."""
    if windows := _WINDOWS.search(str(error)):
        number = int(windows["number"])
        return _SAME.get(number, errno.ENOSYS)
    if isinstance(error, OSError) and error.errno is not None:
        return error.errno
    behind = error.__context__.args if error.__context__ else error.args
    return behind[0] if behind and isinstance(behind[0], int) else None


def reason(error: BaseException) -> str:
    """The cause in the system's own words, without pyserial's frame around it."""
    if windows := _WINDOWS.search(str(error)):
        return windows["words"].rstrip(".")
    behind = error.__context__
    cause = behind if behind is not None and system_number(behind) is not None else error
    return str(cause.args[-1] if cause.args else cause).partition("\n")[0]
