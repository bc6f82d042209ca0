"""Vaporwright: from an enquiry to a proved evaporator, from one job file and one physical model."""
