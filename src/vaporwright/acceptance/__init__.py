"""The acceptance test of a unit: procedure, readings, decisions, performance run, diagnosis, record. Pure.

No clock, no storage, no file here: who calls hands in the time, and keeps what comes out.
"""
