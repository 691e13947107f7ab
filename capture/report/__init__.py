"""The record of a job that a customer can keep: one page that needs nothing else."""
