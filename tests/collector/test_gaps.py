"""Causes of a silence, told apart by the evidence."""

from __future__ import annotations

from collector.clock import Clock
from collector.gaps import Witness, restarted
from collector.record import EVENTS, Sample


class Laptop:
    """A computer whose lid can be closed; both its clocks are set by hand."""

    def __init__(self) -> None:
        self.wall_ms, self.steady_s, self.slept_s = 1_775_117_700_000, 100.0, 0.0
        self.clock = Clock(slept=lambda: self.slept_s)

    def passes(self, seconds: float, *, asleep: bool = False) -> Laptop:
        self.wall_ms += round(seconds * 1000)
        self.steady_s += seconds
        self.slept_s += seconds if asleep else 0.0
        return self

    def sample(self, amps: float | None = None, event: str = "") -> Sample:
        values = {} if amps is None else {"current_a": amps}
        return Sample(self.wall_ms, self.steady_s, values, event)


def told(witness: Witness, sample: Sample) -> list[str]:
    return [event.event for event in witness.before(sample)]


def test_a_closed_lid_is_told_in_the_step_it_lies_in() -> None:
    """Items stamped before the sleep and written after it do not get the blame."""
    laptop = Laptop()
    witness = Witness(laptop.clock, {0: "p"})
    first, waiting = laptop.sample(1), laptop.passes(1).sample(1)
    after = laptop.passes(3600, asleep=True).passes(1).sample(1)

    assert told(witness, first) == []
    assert told(witness, waiting) == []
    assert told(witness, after) == ["computer slept: 3600 s"]
    assert told(witness, laptop.passes(1).sample(1)) == []


def test_clocks_that_are_read_one_after_the_other_are_no_sleep() -> None:
    """A busy computer reads them apart by a part of a second."""
    laptop = Laptop()
    witness = Witness(laptop.clock, {0: "p"})
    said = told(witness, laptop.sample(1))
    laptop.slept_s += 0.4

    assert said + told(witness, laptop.passes(60).sample(1)) == []


def test_a_clock_that_is_set_is_no_sleep() -> None:
    """Only the wall clock jumps then; a sleep during which it is set gives both."""
    laptop = Laptop()
    witness = Witness(laptop.clock, {0: "p"})
    told(witness, laptop.sample(1))
    laptop.wall_ms -= 7_200_000
    set_back = told(witness, laptop.passes(1).sample(1))
    laptop.wall_ms += 60_000
    both = told(witness, laptop.passes(600, asleep=True).sample(1))

    assert set_back == ["clock step: 7200.000 s back"]
    assert both == ["computer slept: 600 s", "clock step: 60.000 s forward"]


def test_a_silence_at_rest_is_a_monitor_asleep() -> None:
    """With amps flowing it is a silence; with bytes that are no frames it is neither."""
    laptop = Laptop()
    silent = laptop.sample(event="silent: nothing was heard for 3 s")
    junk = laptop.sample(event="silent: no frame for 3 s; 40 bytes")

    def after(amps: float | None, event: Sample) -> str:
        witness = Witness(laptop.clock, {0: "p"})
        witness.named(0, laptop.sample(amps))
        return witness.named(0, event).event

    assert after(-0.2, silent) == ("asleep: nothing was heard for 3 s; the link is open, the last "
                                   "amps were -0.2 A")
    assert after(-23.0, silent) == after(None, silent) == silent.event
    assert after(0.0, junk) == junk.event


def test_each_monitor_is_judged_by_its_own_amps_and_named() -> None:
    """One that stops at work beside a resting pack is silent, not asleep."""
    laptop = Laptop()
    witness = Witness(laptop.clock, {0: "/dev/pack", 1: "/dev/place"})
    witness.named(0, laptop.sample(0.0))
    witness.named(1, laptop.sample(30.0))
    silent = laptop.sample(event="silent: nothing was heard for 3 s")

    assert witness.named(1, silent).event == "silent: /dev/place: nothing was heard for 3 s"
    assert witness.named(0, silent).event.startswith("asleep: /dev/pack: nothing was heard")
    mark = laptop.sample(event="mark: 1")
    assert witness.named(1, mark) == mark


def test_a_restart_says_who_went_down() -> None:
    """A steady clock that began again was a computer that did."""
    recorder = restarted("log-1", (1_000_000, 500.0), (1_012_000, 512.0))
    computer = restarted("log-1", (1_000_000, 500.0), (1_090_000, 30.0))

    assert recorder.event == ("restarted: the recorder stopped without closing log-1; "
                              "12 s unseen")
    assert computer.event == ("restarted: the computer stopped without closing log-1; "
                              "90 s unseen")


def test_a_clock_set_back_does_not_hide_how_long_nobody_saw() -> None:
    """The steady clock tells, as long as it went on; else nobody knows, and that is said."""
    recorder = restarted("log-1", (1_000_000, 500.0), (20_000, 512.0))
    computer = restarted("log-1", (1_000_000, 500.0), (20_000, 30.0))

    assert recorder.event.endswith("log-1; 12 s unseen")
    assert computer.event == ("restarted: the computer stopped without closing log-1; nobody knows "
                              "for how long: the computer's clock is behind that log")


def test_every_kind_is_in_the_vocabulary() -> None:
    """What a witness writes, a reader of the log finds explained."""
    assert {"link lost", "silent", "asleep", "computer slept", "clock step", "restarted", "mark",
            "alarm"} <= set(EVENTS)
