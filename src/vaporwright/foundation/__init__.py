"""Errors, constants, kernels, solvers and the source register: what every other room stands on."""
