"""Charts: one specification for page and paper."""
