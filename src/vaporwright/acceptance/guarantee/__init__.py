"""What a run guarantees at the site: the unit fitted to its readings, the prediction, the catalogue refined."""
