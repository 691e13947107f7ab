"""The passes of the wheel, and the indicators on saddle and table. Pure."""
