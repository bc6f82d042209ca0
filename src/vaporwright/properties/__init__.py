"""Properties of moist air, water, liquor, fuels and flue gas: pure functions, SI."""
