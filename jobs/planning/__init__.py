"""The finite-capacity plan: plain dataclasses in, a plan and its reasons out."""

from jobs.planning.compiled import keep_compiled

keep_compiled()
