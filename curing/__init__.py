"""The physics of curing: plain functions of numbers, SI units, hours, no clock and no settings."""
