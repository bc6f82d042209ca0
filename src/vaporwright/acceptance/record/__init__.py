"""The record of a test: who may enter what, events sealed to one another, the state they lead to, the certificate."""
