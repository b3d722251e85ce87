"""The finite-capacity plan: plain dataclasses in, a plan and its reasons out."""
