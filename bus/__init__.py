"""Everything electrical: the wire, the gate in front of it, decoding, recording and the bus process."""
