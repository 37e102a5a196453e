#!/usr/bin/env python3
# Writes mido.txt: messages and their bytes as python3-mido has them, an independent MIDI library. It is run by hand:
#   apt-get install python3-mido && /usr/bin/python3 cable.py > mido.txt
# A line has mido's name, the channel from 1 (0 for a system message), the data bytes, and after ":" all bytes in hex.
import mido

messages = [
    mido.Message("note_on", channel=0, note=60, velocity=100),
    mido.Message("note_on", channel=0, note=60, velocity=0),
    mido.Message("note_off", channel=15, note=127, velocity=64),
    mido.Message("control_change", channel=1, control=64, value=127),
    mido.Message("control_change", channel=1, control=64, value=0),
    mido.Message("program_change", channel=3, program=5),
    mido.Message("pitchwheel", channel=2, pitch=-8192),
    mido.Message("aftertouch", channel=4, value=9),
    mido.Message("polytouch", channel=5, note=1, value=2),
    mido.Message("sysex", data=(0x7F, 0x7F, 1, 1, 0x21, 2, 3, 4)),  # a full frame: 01:02:03:04 at 25
    mido.Message("songpos", pos=16),
    mido.Message("songpos", pos=16383),
    mido.Message("start"), mido.Message("continue"), mido.Message("stop"), mido.Message("clock"),
    mido.Message("active_sensing"), mido.Message("tune_request"), mido.Message("reset"),
]
for kind in range(8):
    messages.append(mido.Message("quarter_frame", frame_type=kind, frame_value=(4, 0, 3, 0, 2, 0, 1, 2)[kind]))
for m in messages:
    raw = m.bytes()
    data = [b for b in raw[1:] if b < 0x80]
    channel = m.channel + 1 if hasattr(m, "channel") else 0
    print(m.type, channel, *data, ":", " ".join("%02X" % b for b in raw))
