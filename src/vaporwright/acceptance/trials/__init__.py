"""How the control is tried: every row of the table as a trial, found by search, and its step in words."""
