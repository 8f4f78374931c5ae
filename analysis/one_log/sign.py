"""What minus means: the sign of the amps, read from the volts' answer to them.

A pack's volts fall when charge is drawn and rise when it is put in. For each convention the volts
are modelled as ``V_k = base_k - R s I_(k-l)``, with ``s`` +1 if plus means discharge, a lag ``l``
of up to 3 s between the two channels and a positive resistance; the slow base is taken off both
sides with a 20 s high pass. The evidence is the generalised likelihood ratio of the two fits
(S. M. Kay, *Fundamentals of Statistical Signal Processing: Detection Theory*, 1998, ch. 6; the
threshold after A. Wald, 1945; both from memory).

Where the volts cannot tell (steady amps, no volts) the answer is "undecided" with what to do.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any, Final, Literal

import numpy as np

from ..phrases import clock_text, press_words, signed_amps
from ..telemetry import Floats, Telemetry
from ..timebase import Observed, observe
from .charge import smallest_step
from .direction import direction_from_volts, is_flipped
from .excitation import Window, Windows, by_length
from .one_pole import high_pass

Convention = Literal["negative_is_discharge", "positive_is_discharge", "unsigned", "undecided"]
CONVENTIONS: Final = ("negative_is_discharge", "positive_is_discharge", "unsigned", "undecided")

#: What turns the amps of a convention into packhand's.
_CHARGE_SIGN: Final = {"negative_is_discharge": 1.0, "positive_is_discharge": -1.0}

#: Evidence needed: odds of a million, and once more for each lag that was tried. [nats]
THRESHOLD: Final = float(np.log(1e6) + np.log(7))
#: The odds ever claimed: no more wrong decisions than 1 in 10,000 have been shown on real trips.
LOG10_ODDS_MAX: Final = 4.0
#: The amps must swing by this much ... [A]
SWING_MIN_A: Final = 15.0
#: ... and cross the middle of their range this often: one press of the pedal crosses it twice.
CROSSINGS_MIN: Final = 2
#: With fewer than this twice the evidence is asked for: a lag of seconds can turn one press round.
CROSSINGS_PLENTY: Final = 3
LAG_MAX_S: Final = 3.0
RESISTANCE_OHM: Final = (1e-3, 1.0)
HIGH_PASS_S: Final = 20.0
WINDOW_S: Final = 300.0
WINDOW_MIN_S: Final = 10.0
#: Points of a window that dates where the sign turns: a minute, if the log is dense enough.
MINUTE_STEPS: Final = 60
#: Windows looked at in a long log: those with the widest swing of the amps.
WINDOWS_MAX: Final = 12
#: The few widest windows of each of so many parts of the log are asked, too, for one that speaks
#: against the others.
PARTS: Final = 4
PART_WINDOWS: Final = 3


@dataclass(frozen=True, slots=True)
class Step:
    """One change of the amps and the volts' answer: a second that proves the sign."""

    at: str
    elapsed_s: float
    from_a: float
    to_a: float
    from_v: float
    to_v: float

    @property
    def words(self) -> str:
        """Such as ``10:32:14, −1 → −64 A, 53.1 → 52.2 V``."""
        return (f"{self.at}, {signed_amps(self.from_a)} → {signed_amps(self.to_a)} A, "
                f"{self.from_v:.1f} → {self.to_v:.1f} V")

    def as_json(self) -> dict[str, Any]:
        return {"elapsed_s": self.elapsed_s, "current_a": [self.from_a, self.to_a],
                "voltage_v": [self.from_v, self.to_v], "words": self.words}


@dataclass(frozen=True, slots=True)
class SignFinding:
    """How to read the sign of a log's amps, and why."""

    convention: Convention
    #: ``volts``, ``person``, ``description``, or empty if undecided.
    decided_by: str = ""
    #: Odds for the convention against the other, capped at what has been shown; 0 if not from
    #: the volts.
    log10_odds: float = 0.0
    #: How much later the volts answer than the amps are told. [s]
    lag_s: float = 0.0
    evidence: tuple[Step, ...] = ()
    #: Why it is undecided.
    reason: str = ""
    #: What would decide it.
    next: str = ""
    #: Whether one moment of the log speaks clearly against another.
    is_disputed: bool = False
    #: The first moment that the volts tell the other sign; NaN if it does not turn. [s]
    turned_s: float = math.nan
    #: What speaks against it: the percent's trend, the person's or the monitor's own word.
    conflict: str = ""

    @property
    def words(self) -> str:
        """The finding in one or two plain sentences."""
        meaning = {
            "negative_is_discharge": "Minus means out of the pack.",
            "positive_is_discharge": "Plus means out of the pack.",
            "unsigned": "The amps carry no sign; the volts tell which way they flow.",
            "undecided": f"Which way the amps flow cannot be told yet: {self.reason}.",
        }[self.convention]
        proof = f" Proof: {self.evidence[0].words}." if self.evidence else ""
        todo = f" To settle it, {self.next}." if self.next else ""
        doubt = f" But {self.conflict}." if self.conflict else ""
        return meaning + proof + todo + doubt

    @property
    def open_words(self) -> str:
        """Why a moment's amps have no direction, and what to do; empty where they have one."""
        if self.convention != "undecided":
            return ""
        if math.isfinite(self.turned_s):
            return f"which way cannot be told: {self.reason}"
        return "which way cannot be told yet" + (f": {self.next}" if self.next else "")

    def as_json(self) -> dict[str, Any]:
        found = {"convention": self.convention, "decided_by": self.decided_by,
                 "log10_odds": round(self.log10_odds, 2), "lag_s": self.lag_s,
                 "evidence": [step.as_json() for step in self.evidence], "words": self.words}
        more = {"reason": self.reason, "next": self.next, "conflict": self.conflict,
                "turned_s": self.turned_s if math.isfinite(self.turned_s) else None}
        return found | {key: told for key, told in more.items() if told}


def find_sign(telemetry: Telemetry, observed: Observed | None = None) -> SignFinding:
    """Find what the sign of a log's amps means.

    The volts decide if they can. A person's word in the metadata stands above them, the monitor
    description's below; where they disagree, ``conflict`` says so.

    Parameters
    ----------
    telemetry
        As loaded: amps in the monitor's own sign.
    observed
        ``observe(telemetry, "current_a", "voltage_v")`` if it is at hand.
    """
    heard = sign_from_volts(telemetry, observed)
    told, by = declared_sign(telemetry)
    if by == "person" or (told != "undecided" and heard.convention == "undecided"):
        finding = replace(heard, convention=told, decided_by=by, reason="", next="")
        if heard.convention not in ("undecided", told):
            finding = replace(finding, log10_odds=0.0,
                              conflict=f"the volts say {_meaning(heard.convention)}")
    elif told not in ("undecided", heard.convention):
        finding = replace(heard, conflict=f"the {by} says {_meaning(told)}")
    else:
        finding = heard
    return _weighed_with_percent(finding, telemetry, observed)


def apply_sign(telemetry: Telemetry, finding: SignFinding) -> Telemetry:
    """The same log with amps positive into the pack.

    Undecided amps are left as they are. Unsigned amps get their direction from the volts
    (``direction.direction_from_volts``). Watts turn with the amps.
    """
    names = [name for name in ("current_a", "power_w") if name in telemetry.columns]
    if finding.convention == "positive_is_discharge":
        return telemetry.having(**{name: -telemetry[name] for name in names})
    if finding.convention == "unsigned":
        way = direction_from_volts(telemetry, finding.lag_s)
        return telemetry.having(**{name: way * np.abs(telemetry[name]) for name in names})
    return telemetry


def sign_from_volts(telemetry: Telemetry, observed: Observed | None = None) -> SignFinding:
    """The sign as the volts alone tell it."""
    if "current_a" not in telemetry:
        return _undecided("the log holds no amps", "log the amps")
    if "voltage_v" not in telemetry:
        return _undecided("the log holds no pack volts", "log the volts beside the amps")
    observed = observed or observe(telemetry, "current_a", "voltage_v")
    if len(observed.time_s) < 2:
        return _undecided("amps and volts never come together", "log both at the same time")
    amps = observed.pick(telemetry["current_a"])
    volts = observed.pick(telemetry["voltage_v"])
    step_s = max(1.0, observed.usual_s)
    cut = Windows.cut(amps, volts, observed, length_s=WINDOW_S * step_s, step_s=step_s)
    wide = _swinging(cut.widest(WINDOWS_MAX))
    crossings = np.array([window.crossings() for window in wide], dtype=np.intp)
    telling = np.flatnonzero(crossings >= CROSSINGS_MIN)
    if not len(telling):
        return _undecided("the amps change too seldom" if wide else "the amps hardly change",
                          _press_once(telemetry))
    more = _swinging(cut.widest_of_parts(PARTS, PART_WINDOWS, after=WINDOWS_MAX))
    misfits = _misfits(wide + more, smallest_step(volts))
    is_disputed = _is_disputed(misfits)
    nats, lag_s = _evidence(misfits[telling], step_s)
    often = crossings.max() >= CROSSINGS_PLENTY
    if abs(nats) < (THRESHOLD if often else 2 * THRESHOLD):
        return replace(_undecided("the volts do not answer the amps clearly",
                                  _press_once(telemetry)),
                       is_disputed=is_disputed)
    convention: Convention = "positive_is_discharge" if nats > 0 else "negative_is_discharge"
    odds = min(abs(nats) / np.log(10), LOG10_ODDS_MAX)
    steps = _proof(wide[telling[0]], _CHARGE_SIGN[convention], lag_s, telemetry)
    if _is_one_sided(amps) and is_flipped(telemetry, lag_s):
        convention = "unsigned"
    return SignFinding(convention, "volts", float(odds), lag_s, steps, is_disputed=is_disputed)


def _undecided(reason: str, todo: str) -> SignFinding:
    return SignFinding("undecided", reason=reason, next=todo)


def _press_once(telemetry: Telemetry) -> str:
    return f"{press_words(telemetry.meta.get('vehicle_kind'))} once, hard, while recording"


def _swinging(windows: list[Window]) -> list[Window]:
    return [window for window in windows if window.swing_a >= SWING_MIN_A]


def _misfits(windows: list[Window], resolution_v: float) -> Floats:
    """The misfit of each window, shape (n, 2, lags); see ``_misfit``."""
    reach = int(LAG_MAX_S / windows[0].step_s)
    misfits = np.empty((len(windows), 2, 2 * reach + 1))
    for alike in by_length(windows):
        misfits[alike] = _misfit([windows[k] for k in alike], reach, resolution_v)
    return misfits


def _evidence(misfits: Floats, step_s: float) -> tuple[float, float]:
    """Log likelihood ratio for "plus is discharge" [nats], and the lag that fits best [s]."""
    misfit = misfits.sum(axis=0)
    best = misfit.min(axis=1)
    side = int(best.argmin())
    return (float(best[1] - best[0]),
            float((misfit[side].argmin() - misfit.shape[1] // 2) * step_s))


def evidence_along(telemetry: Telemetry, observed: Observed) -> tuple[Floats, Floats]:
    """Where the windows of a minute lie and what each says by itself.

    Returns
    -------
    tuple
        Begin and end of each window that holds enough points, shape (n, 2) [s], and the log
        likelihood ratio for "plus is discharge", shape (n,) [nats]; in order of time.
    """
    amps, volts = observed.pick(telemetry["current_a"]), observed.pick(telemetry["voltage_v"])
    step_s = max(1.0, observed.usual_s)
    cut = Windows.cut(amps, volts, observed, length_s=MINUTE_STEPS * step_s, step_s=step_s)
    windows = sorted(cut.widest(len(cut.edges)), key=lambda window: window.time_s[0])
    if not windows:
        return np.empty((0, 2)), np.empty(0)
    best = _misfits(windows, smallest_step(volts)).min(axis=2)
    spans_s = np.array([(window.time_s[0], window.time_s[-1]) for window in windows])
    return spans_s, best[:, 1] - best[:, 0]


def _is_disputed(misfits: Floats) -> bool:
    """Whether one window speaks clearly for one sign and another for the other."""
    nats = np.diff(misfits.min(axis=2))
    return bool(nats.max() > THRESHOLD and nats.min() < -THRESHOLD)


def _misfit(alike: list[Window], reach: int, resolution_v: float) -> Floats:
    """``(n_eff / 2) ln RSS`` of each of some windows of one length: for plus is discharge (row 0)
    and is charge (row 1), by lag."""
    steps = max(HIGH_PASS_S / alike[0].step_s, 5.0)
    x = high_pass(np.stack([window.current_a for window in alike]), steps)
    y = high_pass(np.stack([window.voltage_v for window in alike]), steps)
    count = x.shape[1] - 2 * reach
    y = y[:, reach: reach + count]
    # The volts follow amps that are told ``lag`` rows earlier.
    shifted = np.lib.stride_tricks.sliding_window_view(x, count, axis=1)[:, ::-1]
    cross = np.einsum("wlk,wk->wl", shifted, y)
    power = np.einsum("wlk,wlk->wl", shifted, shifted)
    floor = count * resolution_v**2 / 12 + 1e-12
    rows = []
    for s in (1.0, -1.0):
        ohm = np.clip(-s * cross / np.maximum(power, 1e-12), *RESISTANCE_OHM)
        rss = np.square(y).sum(axis=1)[:, None] + 2 * s * ohm * cross + np.square(ohm) * power
        rows.append(np.log(np.maximum(rss, 0.0) + floor))
    effective = (count - 7) / 2 - 2
    misfit: Floats = max(effective, 0.0) / 2 * np.stack(rows, axis=1)
    return misfit


def _proof(window: Window, charge_sign: float, lag_s: float,
           telemetry: Telemetry) -> tuple[Step, ...]:
    """The three largest steps of the amps within 3 s that the volts answer as they should."""
    reach = max(1, round(3.0 / window.step_s))
    lag = round(lag_s / window.step_s)
    rows = np.arange(max(0, -lag), len(window.time_s) - reach - max(0, lag))
    amps = window.current_a[rows + reach] - window.current_a[rows]
    volts = window.voltage_v[rows + reach + lag] - window.voltage_v[rows + lag]
    agreeing = rows[amps * volts * charge_sign > 0]
    size = np.abs(window.current_a[agreeing + reach] - window.current_a[agreeing])
    chosen: list[int] = []
    for row in agreeing[np.argsort(-size, kind="stable")]:
        if all(abs(row - other) > 2 * reach for other in chosen):
            chosen.append(int(row))
        if len(chosen) == 3:
            break
    zone = str(telemetry.meta.get("time_zone", "UTC"))
    return tuple(
        Step(clock_text(telemetry.at(window.time_s[k]), zone), float(window.time_s[k]),
             float(window.current_a[k]), float(window.current_a[k + reach]),
             float(window.voltage_v[k + lag]), float(window.voltage_v[k + reach + lag]))
        for k in chosen)


def _is_one_sided(amps: Floats) -> bool:
    return float(amps.min()) >= 0 or float(amps.max()) <= 0


def declared_sign(telemetry: Telemetry) -> tuple[Convention, str]:
    """The sign decision stored in the log, or else the monitor description's."""
    stored = telemetry.meta.get("sign") or {}
    convention = stored.get("convention")
    if convention in CONVENTIONS and convention != "undecided":
        return convention, str(stored.get("decided_by") or "log")
    declared = ((telemetry.meta.get("monitor") or {}).get("sign") or {}).get("current_a")
    if declared in CONVENTIONS and declared != "undecided":
        return declared, "description"
    return "undecided", ""


def _meaning(convention: Convention) -> str:
    return {"negative_is_discharge": "minus is out of the pack",
            "positive_is_discharge": "plus is out of the pack",
            "unsigned": "the amps carry no sign", "undecided": "nothing"}[convention]


def _weighed_with_percent(finding: SignFinding, telemetry: Telemetry,
                          like: Observed | None) -> SignFinding:
    """Say so where the displayed percent moves against the counted charge."""
    if finding.convention not in _CHARGE_SIGN or "soc_pct" not in telemetry:
        return finding
    both = observe(telemetry, "current_a", "soc_pct", like=like)
    if len(both.time_s) < 2:
        return finding
    percent = both.pick(telemetry["soc_pct"])
    change = float(percent[-1] - percent[0])
    net = both.integral(both.pick(telemetry["current_a"]))
    net *= _CHARGE_SIGN[finding.convention]
    if abs(change) < 3 or change * net >= 0:
        return finding
    told = (f"the displayed percent went {'up' if change > 0 else 'down'} by {abs(change):.0f} "
            f"while {'in' if net > 0 else 'out'} prevailed")
    return replace(finding, conflict="; ".join(filter(None, [finding.conflict, told])))
