"""Drawings: to scale, from the same model as every number."""
