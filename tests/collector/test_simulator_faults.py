"""Faults come as scripted, and spoil what they say they spoil."""

import itertools
import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from collector.clock import Clock
from collector.errors import PackhandError
from collector.frames.decoder import Decoder
from collector.monitors import load_description
from collector.simulator import faults, live
from collector.simulator.row_faults import Teller, altered
from collector.simulator.voices import voice

BINARY, TEXT = load_description("demo-binary"), load_description("demo-text")
ROW = next(live.live_day(1))


def test_a_seed_is_a_script() -> None:
    """The same seed gives the same faults, another seed others, in the order of their times."""
    first, again, other = (list(itertools.islice(faults.script(["torn", "pause"], seed), 40))
                           for seed in (1, 1, 2))

    assert first == again != other
    assert [f.at_s for f in first] == sorted(f.at_s for f in first)
    assert {f.kind for f in first} == {"torn", "pause"}


def test_faults_do_not_overlap_where_a_seed_decides() -> None:
    """The next one begins after the last has ended."""
    some = list(itertools.islice(faults.script(list(faults.KINDS), 3), 50))

    assert all(before.end_s < after.at_s for before, after in itertools.pairwise(some))


def test_a_time_makes_a_fault_happen_once() -> None:
    """``KIND@SECONDS`` comes then and never again, for as long as ``+SECONDS`` says."""
    script = list(faults.script(["unplug@20", "torn@3.5", "pause@30+2"], 1))

    assert [(f.kind, f.at_s) for f in script] == [("torn", 3.5), ("unplug", 20.0), ("pause", 30.0)]
    assert 1 <= script[1].for_s <= 4
    assert script[2].for_s == 2


@pytest.mark.parametrize(("wish", "found"), [("melt", "no kind 'melt'"),
                                             ("torn@soon", "'soon' is not a number")])
def test_unknown_faults_are_one_line(wish: str, found: str) -> None:
    """What is not a fault is said, with what is."""
    with pytest.raises(PackhandError, match=found):
        faults.script([wish], 1)


@settings(derandomize=True, deadline=None, max_examples=80)
@given(st.integers(0, 10_000), st.sampled_from([BINARY, TEXT]))
def test_spoilt_frames_are_never_good(seed: int, monitor: object) -> None:
    """Half a frame and a frame with a turned bit give no row."""
    rng, frame = random.Random(seed), voice(monitor, ROW)

    for spoilt in (faults.torn(frame, rng), faults.bit_turned(frame, rng)):
        assert spoilt != frame
        assert Decoder(monitor).feed(spoilt) == []


def test_garbage_is_a_few_random_bytes() -> None:
    """Between 5 and 60 bytes, different each time."""
    rng = random.Random(1)
    junk = [faults.garbage(rng) for _ in range(50)]

    assert len(set(junk)) == 50
    assert all(5 <= len(data) < 60 for data in junk)


def test_a_stepping_clock_moves_the_wall_only() -> None:
    """After its time the wall clock is off by the step; the steady clock knows nothing of it."""
    now = [100.0]
    clock = faults.stepping_clock(10, -3600, Clock(lambda: 5000 + now[0], lambda: now[0]))
    before = clock.now()
    now[0] = 110.0
    after = clock.now()

    assert after[1] - before[1] == 10
    assert (after[0] - before[0]) / 1000 == 10 - 3600


@settings(derandomize=True, deadline=None, max_examples=50)
@given(st.binary(max_size=60), st.sampled_from([1.0, 0.97, 1.04]))
def test_a_line_at_its_baud_rate_is_heard_as_sent(data: bytes, ratio: float) -> None:
    """Up to 4 % off: by the tenth bit the receiver is less than half a bit beside (worked by hand:
    9.5 x 0.04 = 0.38)."""
    assert faults.misheard(data, ratio) == data


@pytest.mark.parametrize("ratio", [0.25, 0.5, 2.0, 4.0])
@pytest.mark.parametrize("monitor", [BINARY, TEXT])
def test_a_line_at_another_baud_rate_gives_no_frame(monitor: object, ratio: float) -> None:
    """Bytes come, and none of them makes a frame."""
    heard = b"".join(faults.misheard(voice(monitor, ROW), ratio) for _ in range(20))

    assert len(heard) > 200
    assert Decoder(monitor).feed(heard) == []


@pytest.mark.parametrize(("kind", "changed"), [
    ("swap", {"soc_pct"}), ("missing", {"soc_pct", "temp_1_c", "temp_2_c"}),
    ("cells", {"cell_16_v"}), ("unit", {"voltage_v"}), ("scale", {"voltage_v"}),
    ("wrap", {"voltage_v"}), ("zero", {"current_a"}), ("coarse", {"voltage_v"}),
    ("dead-cell", {"cell_05_v"}), ("twin-cell", {"cell_05_v"}), ("torn", set())])
def test_faults_of_the_figures_change_what_they_say(kind: str, changed: set[str]) -> None:
    """And nothing else; the row itself is left alone."""
    before = dict(ROW)
    row = altered(ROW, kind)

    assert {name for name in ROW if row.get(name) != ROW[name]} == changed
    assert before == ROW
    assert row is not ROW


@pytest.mark.parametrize("kind", [kind for kind in faults.KINDS if kind not in faults.AWAY])
@pytest.mark.parametrize("name", ["demo-text", "demo-binary", "nmea", "nmea-battery"])
def test_every_voice_can_tell_every_fault(kind: str, name: str) -> None:
    """A fault of the figures never ends the play."""
    monitor = load_description(name)
    assert len(Decoder(monitor).feed(voice(monitor, altered(ROW, kind)))) >= 1


def test_faults_that_look_back_take_the_row_before() -> None:
    """Volts and direction of the row before; figures that stand still; another pack for good."""
    rows: list[dict[str, float | str]] = [
        {"sequence": n, "current_a": amps, "voltage_v": 52.0 + n, "soc_pct": 90.0,
         "cell_05_v": 3.2 + n} for n, amps in enumerate([-10.0, 20.0, -30.0])]

    def last_of(kind: str) -> dict[str, float | str]:
        teller = Teller()
        return [teller.tell(row, kind if n else "") for n, row in enumerate(rows)][-1]

    assert last_of("late-volts") == rows[2] | {"voltage_v": 53.0, "cell_05_v": 4.2}
    assert last_of("late-sign") == rows[2] | {"current_a": 30.0}
    assert last_of("stuck-volts") == rows[2] | {"voltage_v": 52.0}
    assert last_of("stuck-amps") == rows[2] | {"current_a": -10.0}
    assert last_of("stuck-cell") == rows[2] | {"cell_05_v": 3.2}
    assert last_of("frozen") == rows[0] | {"sequence": 2}
    assert Teller().tell(rows[0], "late-volts") == rows[0]


def test_another_pack_stays() -> None:
    """What was plugged in instead is told from then on, with and without other faults."""
    teller = Teller()
    told = [teller.tell(dict(ROW), kind)["soc_pct"] for kind in ("", "swap", "", "zero")]

    assert told[0] == ROW["soc_pct"]
    assert len(set(told[1:])) == 1
    assert told[1] != told[0]
