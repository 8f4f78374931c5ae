"""What can be typed of each part: its keys in plain words, the rare ones last.

The keys are the fields of the dataclasses in ``analysis.parts``; a test holds the two together.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final, Literal

Kind = Literal["text", "number", "count", "yes or no", "choice", "cable"]


@dataclass(frozen=True, slots=True)
class PartField:
    """One thing that a label says."""

    key: str
    label: str
    kind: Kind = "number"
    #: What may be chosen.
    options: tuple[str, ...] = ()
    #: Asked for under "More" only.
    is_rare: bool = False


@dataclass(frozen=True, slots=True)
class PartForm:
    """One kind of part."""

    #: With its article: ``a breaker``.
    words: str
    fields: tuple[PartField, ...]
    #: False where it stands in the list once.
    is_many: bool = True


def _name(example: str) -> PartField:
    return PartField("name", f"What you call it, such as {example}", "text")


def _rare(key: str, label: str, kind: Kind = "number",
          options: tuple[str, ...] = ()) -> PartField:
    return PartField(key, label, kind, options, is_rare=True)


_LOAD: Final = (_rare("load_a", "Amps it carries, if not the pack's"),
                _rare("circuit_v", "Volts of its circuit, if not the pack's"))
_INSULATION: Final = ("60", "75", "80", "90", "105", "125", "200")

FORMS: Final[Mapping[str, PartForm]] = {
    "pack": PartForm("the pack", (
        PartField("cells", "Cells in series", "count"),
        PartField("charge_end_v", "Highest volts its maker states, at the end of a charge"),
        PartField("capacity_ah", "Amp-hours on its label"),
        PartField("resistance_mohm", "Resistance with leads, in milliohms"),
        PartField("lowest_v", "Lowest volts under the heaviest load"),
        PartField("rms_10_s_a", "Amps over the worst ten seconds"),
        PartField("rms_1_min_a", "Amps over the worst minute"),
        PartField("rms_10_min_a", "Amps over the worst ten minutes"),
        PartField("mean_a", "Mean amps while it is out, stops included"),
        _rare("short_circuit_a", "Short-circuit amps its maker states"),
        _rare("charge_max_a", "Amps its management board lets in"),
        _rare("low_cell_v", "Volts of one low cell at which the board cuts off"),
        _rare("nominal_v", "Nominal volts"), _rare("full_rest_v", "Volts when full and resting"),
        _rare("mass_kg", "Kilograms"), _rare("name", "Name of the pack in the logbook", "text"),
    ), is_many=False),
    "breaker": PartForm("a breaker", (
        _name("main breaker"), PartField("rating_a", "Amps on its label"),
        PartField("marked_v_dc", "Volts DC on its label"),
        PartField("enclosure_c", "Heat of its place on a hot day, °C"),
        PartField("protects", "The cable behind it", "cable"),
        _rare("marked_v_ac", "Volts AC on its label"),
        _rare("interrupt_a", "Amps it can break (interrupt rating)"),
        _rare("holds_1_min_a", "Amps it holds for a minute, by its maker's curve"),
        _rare("is_thermal", "Does it trip by heat?", "yes or no"),
        _rare("is_full_duty", "Is it marked for its full amps in the long run?", "yes or no"),
        _rare("calibrated_c", "Heat for which its amps are stated, °C"),
        _rare("is_polarised", "Are plus and minus marked on it?", "yes or no"),
        _rare("carries_both_ways", "Do amps flow through it both ways?", "yes or no"), *_LOAD)),
    "fuse": PartForm("a fuse", (
        _name("accessory fuse"), PartField("rating_a", "Amps on its label"),
        PartField("marked_v_dc", "Volts DC on its label"),
        PartField("load_a", "Amps it carries, if not the pack's"),
        PartField("protects", "The cable behind it", "cable"),
        _rare("marked_v_ac", "Volts AC on its label"),
        _rare("interrupt_a", "Amps it can break (interrupt rating)"),
        _rare("holds_1_min_a", "Amps it holds for a minute, by its maker's curve"),
        _rare("distance_m", "Metres of cable between it and the pack"),
        _rare("is_sheathed", "Is that cable in a sheath?", "yes or no"),
        _rare("circuit_v", "Volts of its circuit, if not the pack's"))),
    "cable": PartForm("a cable", (
        _name("battery cable"),
        PartField("size", "Size with its unit: 6 AWG, or 16 mm2", "text"),
        PartField("length_m", "Metres one way"),
        PartField("insulation_c", "Heat its insulation stands, °C", "choice", _INSULATION),
        _rare("is_critical", "Is it on the way to the motor?", "yes or no"),
        _rare("in_engine_space", "Does it lie in a hot place?", "yes or no"), *_LOAD)),
    "coil": PartForm("a coil of a solenoid or contactor", (
        _name("main solenoid"), PartField("marked_v", "Volts on its label"),
        PartField("resistance_ohm", "Ohms across the coil, cold"),
        _rare("max_v", "Volts its maker allows in the long run"),
        _rare("pull_in_v", "Volts its maker says it needs to pull in"))),
    "precharge": PartForm("a pre-charge resistor", (
        _name("pre-charge resistor"), PartField("resistance_ohm", "Ohms"),
        PartField("capacitance_mf", "Capacitors behind it, in millifarads"),
        PartField("wait_s", "Seconds before the contactor closes"),
        PartField("rating_w", "Watts on its label"),
        _rare("is_permanent", "Does it lie across the contactor for good?", "yes or no"))),
    "charger": PartForm("a charger", (
        _name("yard charger"), PartField("end_v", "Volts at the end of its charge"),
        PartField("current_a", "Amps on its label"),
        PartField("equalises", "Does it equalise, without a switch to stop it?", "yes or no"))),
    "converter": PartForm("a converter", (
        _name("12 V converter"), PartField("input_max_v", "Highest volts in"),
        PartField("input_min_v", "Lowest volts in"), PartField("output_w", "Watts on its label"),
        PartField("load_w", "Watts that hang on it"),
        PartField("standby_w", "Watts it takes by itself"),
        _rare("efficiency_pct", "Its efficiency, %"),
        _rare("is_on_whole_pack", "Does it hang on the whole pack?", "yes or no"))),
    "gauge": PartForm("a volt gauge", (
        _name("old gauge"), PartField("lead_cells", "Lead cells it was made for", "count"),
        PartField("empty_v", "Volts at its empty mark"),
        PartField("full_v", "Volts at its full mark"),
        _rare("max_v", "The most volts it stands"))),
    "cutoff": PartForm("a low-volts cut-off", (
        _name("controller low volts"), PartField("cutoff_v", "Volts at which it stops"))),
    "frame_leakage": PartForm("leakage to the frame", (
        _name("pack to frame"), PartField("pack_v", "Volts of the pack by meter"),
        PartField("minus_to_frame_v", "Volts from minus to frame, without sign"),
        PartField("plus_to_frame_v", "Volts from plus to frame, without sign"),
        _rare("resistor_ohm", "Ohms put beside it for the third reading"),
        _rare("with_resistor_v", "Volts with them, on the side that showed more"))),
    "lead_acid": PartForm("the lead bank, to compare", (
        PartField("cells", "Lead cells in series", "count"),
        PartField("kind", "Kind", "choice", ("flooded", "AGM", "gel")),
        PartField("rated_ah", "Amp-hours on its label"),
        PartField("rated_h", "... over so many hours"), PartField("mass_kg", "Kilograms"),
        PartField("charge_a", "Amps while it charges"),
        _rare("one_amp_ah", "Amp-hours at one amp, if that is what is stated"),
        _rare("second_ah", "A second stated amp-hours"), _rare("second_h", "... over hours"),
        _rare("exponent", "Peukert's exponent"), _rare("usable_pct", "Part of it that is used, %"),
    ), is_many=False),
    "vehicle": PartForm("the vehicle, to compare", (
        PartField("mass_kg", "Kilograms with driver and the lithium pack"),
        PartField("consumption_wh_per_km", "Wh per kilometre, if known"),
        PartField("speed_km_h", "Usual km/h"),
        PartField("rolling_coefficient", "Rolling coefficient, 0.03 on gravel and concrete"),
        _rare("drag_area_m2", "Air drag area, m²"),
        _rare("drive_efficiency_pct", "Efficiency of the drive, %"),
    ), is_many=False),
}


def in_plain_words(text: str, kind: str) -> str:
    """A text with the names of keys as their labels: ``holds_1_min_a`` is for files."""
    labels = {field.key: field.label for name in (kind, "pack", "vehicle")
              for field in reversed(FORMS[name].fields) if "_" in field.key}
    return re.sub(r"\b[a-z0-9]+(?:_[a-z0-9]+)+\b",
                  lambda match: f"“{labels[match[0]]}”" if match[0] in labels else match[0], text)
