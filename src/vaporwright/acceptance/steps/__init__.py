"""Steps of a test and their judgement: procedure, day, instruments, readings, and what a reading says of its limits."""
