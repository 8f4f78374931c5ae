"""What breakers and fuses are asked alike: volts, amps in the long run, short circuit, cable."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Protocol

from ..incidents.breaker_heat import CONTINUOUS as CONTINUOUS_SHARE
from .cable import Cable
from .pack import Figure, PackFigures
from .verdict import Check, check, unknown

#: Below this a boat's cable may be protected at up to 150 % of its reference, from it on at
#: 100 %: 33 CFR 183.455. [V]
STRICT_FROM_V: Final = 50.0
LENIENT_SHARE: Final = 1.5

_VOLTS: Final = "Is it marked for its highest volts, as DC?"
_INTERRUPT: Final = "Can it break a short circuit of this pack?"
_CABLE: Final = "Does it protect its cable?"
_LONG_RUN: Final = "Does its rating carry the load in the long run?"
_MINUTE: Final = "Does it hold through the worst minute?"


@dataclass(frozen=True, slots=True)
class Marking:
    """What stands on a protective device; ``None`` where it says nothing."""

    rating_a: float
    dc_v: float | None
    ac_v: float | None
    interrupt_a: float | None


class Protective(Protocol):
    """What a fuse and a breaker have in common, as typed."""

    @property
    def name(self) -> str: ...
    @property
    def rating_a(self) -> float: ...
    @property
    def marked_v_dc(self) -> float | None: ...
    @property
    def marked_v_ac(self) -> float | None: ...
    @property
    def interrupt_a(self) -> float | None: ...
    @property
    def load_a(self) -> float | None: ...
    @property
    def circuit_v(self) -> float | None: ...
    @property
    def holds_1_min_a(self) -> float | None: ...
    @property
    def protects(self) -> str: ...


def protective_checks(device: Protective, pack: PackFigures, cable: Cable | None,
                      continuous: Check, *own: Check) -> tuple[Check, ...]:
    """The checks of a device that protects, in their order.

    Parameters
    ----------
    cable
        The one behind it, where it is known.
    continuous
        How it stands the long run.
    own
        What only this kind of device is asked; before its cable.
    """
    marking = Marking(device.rating_a, device.marked_v_dc, device.marked_v_ac, device.interrupt_a)
    highest = highest_figure(device.circuit_v, device.name, pack)
    minute = load_figure(device.load_a, device.name, pack.rms_1_min_a)
    checks = [volts_check(marking, highest), continuous,
              minute_check(device.rating_a, minute, device.holds_1_min_a)]
    # Behind a converter its own limit counts, not the pack's short circuit.
    if device.circuit_v is None:
        checks.append(interrupt_check(marking, pack))
    checks += own
    if device.protects:
        checks.append(cable_check(device.rating_a, cable, highest))
    return tuple(checks)



def needed_rating_a(continuous_a: float, share: float = CONTINUOUS_SHARE) -> float:
    """``I_r >= I / share``: the 125 % of NEC 210.20(A), beside what is not continuous. [A]"""
    return continuous_a / share


def prospective_a(volts: float, resistance_ohm: float) -> float:
    """``V / R``: at least so much flows into a short circuit. [A]

    A lower bound: a resistance measured while driving holds leads, board and slow effects that a
    short circuit at the posts has not.
    """
    return volts / resistance_ohm


def reference_limit_a(ampacity_a: float, pack_v: float) -> float:
    """The largest rating that 33 CFR 183.455 lets protect a cable; next sizes left aside. [A]"""
    return ampacity_a * (LENIENT_SHARE if pack_v < STRICT_FROM_V else 1.0)


def highest_figure(circuit_v: float | None, name: str, pack: PackFigures) -> Figure:
    """The most volts that a device sees: as typed for its circuit, else the pack's."""
    return pack.highest_v if circuit_v is None else Figure(circuit_v, "V", "typed", name)


def volts_check(marking: Marking, highest: Figure) -> Check:
    """Marked DC volts against the highest volts, not the nominal ones."""
    remedy = f"marked for at least {highest.value:.1f} V DC"
    if marking.dc_v is None:
        if marking.ac_v is None:
            return unknown(_VOLTS, "no marked volts were typed", "read the nameplate: V DC")
        return check(_VOLTS, False, (
            f"marked {marking.ac_v:g} V AC only: DC has no zero crossing to end the arc",), remedy)
    over = highest.value - marking.dc_v
    relation = f"{over:.1f} V too low" if over > 0 else f"{-over:.1f} V to spare"
    return check(_VOLTS, over <= 0, (
        f"marked {marking.dc_v:g} V DC; highest {highest.text}: {relation}",), remedy)


def interrupt_check(marking: Marking, pack: PackFigures) -> Check:
    """The interrupt rating against the pack's stated short circuit, or a lower bound of it.

    A lower bound can only refuse: it never grants a "yes".
    """
    ask = "ask the pack's maker for its short-circuit amps and the device's maker for its rating"
    bound, lines, is_stated = _short_circuit(pack)
    if marking.interrupt_a is None or bound is None:
        missing = "" if bound is not None else "the pack's resistance is not known"
        told = "no interrupt rating was typed" if marking.interrupt_a is None else ""
        return Check(_INTERRUPT, "cannot tell yet", tuple(x for x in (*lines, told, missing) if x),
                     ask)
    lines = (*lines, f"marked to interrupt {marking.interrupt_a:.0f} A")
    if marking.interrupt_a < bound:
        return check(_INTERRUPT, False, lines, f"marked to interrupt well over {bound:.0f} A DC")
    return check(_INTERRUPT, True if is_stated else None, lines, ask)


def _short_circuit(pack: PackFigures) -> tuple[float | None, tuple[str, ...], bool]:
    """Amps, how they come about, and whether they are stated rather than a lower bound."""
    if pack.short_circuit_a is not None:
        stated = pack.short_circuit_a
        return stated.value, (f"short circuit {stated.text}",), True
    if pack.resistance_ohm is None:
        return None, (), False
    ohm = pack.resistance_ohm
    amps = prospective_a(pack.full_rest_v.value, ohm.value)
    return amps, (f"at least {pack.full_rest_v.value:.1f} V / {1000 * ohm.value:.1f} mΩ "
                  f"({ohm.told}) = {amps:.0f} A; a lower bound, for the resistance holds leads "
                  "and board",), False


def cable_check(rating_a: float, cable: Cable | None, highest: Figure) -> Check:
    """The rating against the cable's reference ampacity."""
    if cable is None or cable.ampacity_a is None:
        return unknown(_CABLE, "the cable behind it, or its insulation, is not known",
                       'type protects = "name of the cable", and insulation_c of that cable')
    ampacity, limit = cable.ampacity_a, reference_limit_a(cable.ampacity_a, highest.value)
    lines = (f"{rating_a:g} A on {cable.name}, {cable.size.text}: reference {ampacity:.0f} A",)
    if rating_a <= ampacity:
        return check(_CABLE, True, lines, "")
    strict = rating_a > ampacity * LENIENT_SHARE
    rule = (f"33 CFR 183.455 (boats) ends at {limit:.0f} A for {highest.value:.1f} V; from "
            "50 V it lets the next standard size pass, up to 150 %")
    return check(_CABLE, False if strict else None, (*lines, rule),
                 f"{ampacity:.0f} A or less, or a thicker cable; your code decides in between")


def load_figure(load_a: float | None, name: str, measured: Figure | None) -> Figure | None:
    """The load as typed for a device, else the pack's."""
    return measured if load_a is None else Figure(load_a, "A", "typed", name)


def minute_check(rating_a: float, amps: Figure | None, holds_a: float | None) -> Check:
    """The worst minute against the rating, or against what the maker's trip curve holds."""
    if amps is None:
        return unknown(_MINUTE, "the worst amps of 1 min are not known",
                       "log a drive, or type rms_1_min_a")
    lines = [f"worst minute {amps.text}; rated {rating_a:g} A: {100 * amps.value / rating_a:.0f} %"]
    if amps.value <= rating_a or holds_a is None:
        return check(_MINUTE, True if amps.value <= rating_a else None, tuple(lines),
                     "the maker's trip curve: type the amps it holds for a minute as "
                     "holds_1_min_a")
    return check(_MINUTE, amps.value <= holds_a, (*lines, f"it holds {holds_a:g} A for a minute"),
                 f"one that holds {amps.value:.0f} A for a minute, or fewer amps")


def continuous_check(rating_a: float, amps: Figure | None, share: float, *,
                     heat: tuple[str, ...] = (), heat_share: float = 1.0,
                     is_heat_known: bool = True) -> Check:
    """The load in the long run against ``share`` of a rating that heat has lowered.

    Where heat's share is only an example, it can refuse but not grant.
    """
    if amps is None:
        return unknown(_LONG_RUN, "the worst amps of 10 min are not known",
                       "log a drive, or type rms_10_min_a")
    carried = rating_a * share * heat_share
    needed = needed_rating_a(amps.value, share * heat_share)
    lines = (*heat, f"{rating_a:g} A x {100 * share:.0f} % in the long run"
             + (f" x {heat_share:.2f} for heat" if heat_share != 1 else "")
             + f" = {carried:.1f} A; over ten minutes {amps.text}")
    remedy = f"rated for at least {needed:.0f} A, or fewer amps"
    if amps.value > rating_a * share:
        return check(_LONG_RUN, False, lines, remedy)
    if not is_heat_known:
        return check(_LONG_RUN, None, lines, "the maker's table of rating against temperature")
    return check(_LONG_RUN, amps.value <= carried, lines, remedy)
