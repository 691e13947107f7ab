"""Findings as text for a terminal, in the units of the job."""
