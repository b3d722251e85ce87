from jobs.models.casting import Batch, InstallDate
from jobs.models.derived import Flag, JobReadiness, PromiseState
from jobs.models.marks import Mark
from jobs.models.orders import Customer, Job, Piece
from jobs.models.telling import CustomerLink, Mail, Notice

__all__ = [
    "Batch",
    "Customer",
    "CustomerLink",
    "Flag",
    "InstallDate",
    "Job",
    "JobReadiness",
    "Mail",
    "Mark",
    "Notice",
    "Piece",
    "PromiseState",
]
