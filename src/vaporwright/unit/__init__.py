"""The job, the catalogue and the assembled unit: balances, rating, sizing."""
