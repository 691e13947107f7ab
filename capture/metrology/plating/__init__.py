"""Hard chrome: strip, deposit and finished diameters. Pure."""
