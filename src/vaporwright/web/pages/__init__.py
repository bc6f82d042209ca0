"""The pages, one module for each stop of the job's way, and for people."""
