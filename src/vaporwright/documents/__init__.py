"""Papers that carry charts."""
