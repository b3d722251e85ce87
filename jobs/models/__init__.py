from jobs.models.casting import Batch, InstallDate
from jobs.models.derived import Flag, JobReadiness, PromiseState
from jobs.models.drying import Weighing
from jobs.models.marks import Mark, Outcome
from jobs.models.mixing import Measured, MixerRun, Photo, Specimen, Weighed
from jobs.models.orders import Customer, Job, Piece
from jobs.models.planning import (
    FormSetUp,
    JobPlanned,
    PlanAccepted,
    PlannedStep,
    PlanRun,
    RunState,
)
from jobs.models.telling import CustomerLink, Mail, Notice
from jobs.models.trust import Demold, PieceKind, TrustedAge

__all__ = [
    "Batch",
    "Customer",
    "CustomerLink",
    "Demold",
    "Flag",
    "FormSetUp",
    "InstallDate",
    "Job",
    "JobPlanned",
    "JobReadiness",
    "Mail",
    "Mark",
    "Measured",
    "MixerRun",
    "Notice",
    "Outcome",
    "Photo",
    "Piece",
    "PieceKind",
    "PlanAccepted",
    "PlanRun",
    "PlannedStep",
    "PromiseState",
    "RunState",
    "Specimen",
    "TrustedAge",
    "Weighed",
    "Weighing",
]
