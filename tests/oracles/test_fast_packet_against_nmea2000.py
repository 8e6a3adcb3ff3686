"""Fast packets against the PyPI package nmea2000 (2026.10.3, Apache-2.0), which splits and joins them too."""

from hypothesis import given
from hypothesis import strategies as st
from nmea2000._canboat import Reassembler, ReassemblyError, fast_packet_fragment

from bus.fast_packet import FastPackets

PGN = 127489
payloads = st.binary(min_size=1, max_size=223)


@given(payloads, st.integers(0, 7))
def test_what_the_package_splits_we_join(payload, sequence):
    packets = FastPackets()
    out = [packets.feed(1, PGN, 0.0, bytes(frame)) for frame in fast_packet_fragment(sequence, payload)]
    assert out[-1] == payload
    assert not any(out[:-1])


@given(st.data())
def test_on_a_bus_that_loses_frames_of_several_senders_we_join_what_the_package_joins(data):
    streams = []
    for source in range(data.draw(st.integers(1, 3))):
        sent = [
            (source, bytes(frame))
            for sequence, payload in enumerate(data.draw(st.lists(payloads, min_size=1, max_size=4)))
            for frame in fast_packet_fragment(sequence, payload)
        ]
        lost = data.draw(st.sets(st.integers(0, len(sent) - 1), max_size=3))
        streams.append([frame for number, frame in enumerate(sent) if number not in lost])
    ours, theirs = FastPackets(), Reassembler()
    while streams := [stream for stream in streams if stream]:
        source, frame = data.draw(st.sampled_from(streams)).pop(0)
        try:
            expected = theirs.push(PGN, frame, source, 255, 2)
        except ReassemblyError:
            expected = None
        assert ours.feed(source, PGN, 0.0, frame) == expected
