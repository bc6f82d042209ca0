"""Units shown to people (leaf; only the edge uses it)."""
