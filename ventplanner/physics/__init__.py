"""Formulas of flow, curing, capillarity and bending, each with its source. SI units unless a name says else."""
