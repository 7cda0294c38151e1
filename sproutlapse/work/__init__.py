"""Many frames: measured over processes, kept on disk, and settled in time order."""
