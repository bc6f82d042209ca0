"""The performance run: its log, rates and balances over any span, when it is steady, and what voids it."""
