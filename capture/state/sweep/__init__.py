"""The sweeps of a streaming bore gauge: placement, rocks, and readings accepted hands-free. Pure."""
