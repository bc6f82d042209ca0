"""The cause-and-effect table: signals, scan, alarms, rehearsal, proof, PLC text."""
