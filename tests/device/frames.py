"""Frames of a node with one probe."""

from holdctl.device.framing import encode

HELLO = encode("hello proto=1 fw=0.3 probes=1 maxlease=2000 cut1=95.00 cause=power")


def frame(n, up=None, ack=0, temp="65.00"):
    up = n * 1000 if up is None else up
    return encode(f"r n={n} up={up} t1={temp} age=250 relay=0 left=0 ack={ack} bad=0 cut=0")
