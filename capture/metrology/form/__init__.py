"""Form: profiles along and round a part, lobes, roundness and taper. Pure."""
