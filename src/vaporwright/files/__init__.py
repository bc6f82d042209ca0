"""Reading and writing files: units and validation at the edge."""
