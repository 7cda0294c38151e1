"""One photo to its findings: arrays and plain values in, arrays and plain values out."""
