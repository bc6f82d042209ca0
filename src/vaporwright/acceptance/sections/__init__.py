"""The sections of a unit's procedure: each a module that writes its steps; procedure_of_unit puts them in order."""
