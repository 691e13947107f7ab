"""A grind judged after every pass: what came off, what is to come, whether it is done. Pure."""
