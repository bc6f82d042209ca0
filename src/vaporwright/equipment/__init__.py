"""One piece of equipment per module: none knows its neighbour."""
