"""A plain detector to compare with: the Hilbert envelope, one fixed setting. Needs scipy.

Reads a line of JSON for each recording: {"path", "channel", "tone", "wiring"}. Answers with a line of JSON: {"edges": [{"kind", "sample"}],
"cpu": seconds}. The tone is filtered out by a Butterworth band-pass of a quarter of its frequency either way, forwards and backwards; the
threshold is half of the level below which the envelope is for 90 % of the time; states of less than 20 ms do not count, nor do the first
and last 50 ms, where filter and transform have no sound on one side."""
import json
import sys
import time

import numpy as np
from scipy.io import wavfile
from scipy.signal import butter, hilbert, sosfiltfilt

CHUNK, OVERLAP = 1 << 18, 1 << 14  # larger chunks leave the cache, and take three times as long


def envelope(x, rate, tone):
    """In chunks that overlap, so that long recordings fit into memory."""
    sos = butter(2, [0.75 * tone, min(1.25 * tone, 0.49 * rate)], "bandpass", fs=rate, output="sos")
    out = np.empty(len(x), np.float32)
    for at in range(0, len(x), CHUNK - 2 * OVERLAP):
        lo, hi = max(0, at - OVERLAP), min(len(x), at + CHUNK - OVERLAP)
        part = np.abs(hilbert(sosfiltfilt(sos, x[lo:hi].astype(float))))
        end = min(len(x), at + CHUNK - 2 * OVERLAP)
        out[at:end] = part[at - lo:end - lo]
    return out


def edges(q):
    rate, x = wavfile.read(q["path"], mmap=True)
    if x.ndim > 1:
        x = x[:, q["channel"]]
    loud = envelope(x, rate, q["tone"])
    loud = loud > 0.5 * np.percentile(loud[::16], 90)
    kept = []
    margin = int(0.05 * rate)
    for i in np.flatnonzero(np.diff(loud[margin:-margin])) + margin + 1:
        if kept and i - kept[-1] < 0.02 * rate:
            kept.pop()
        else:
            kept.append(int(i))
    closed = q["wiring"] == "series"
    return [{"kind": "close" if bool(loud[i]) == closed else "open", "sample": i} for i in kept]


for line in sys.stdin:
    before = time.process_time()
    found = edges(json.loads(line))
    print(json.dumps({"edges": found, "cpu": time.process_time() - before}), flush=True)
