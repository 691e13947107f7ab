"""Trials of the judge of a grind: sessions in words, with the truth beside every judgement."""
