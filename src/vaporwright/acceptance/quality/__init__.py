"""How good a procedure is: a simulated technician performs it on units with planted faults."""
