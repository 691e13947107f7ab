"""English for people: messages of the arithmetic as sentences, lengths in the units of the job. Pure."""
