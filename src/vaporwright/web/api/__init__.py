"""The JSON interface for other programs."""
