"""Simulated units that run while people look: kept for a browser, stepped by a thread, told of as JSON and pages."""
