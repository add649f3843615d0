"""The way of a clutch: what was seen of a female before laying, and of her eggs and young after."""

from keeper.models.breeding.clutch_steps import ClutchStep, Incubation, StepKind
from keeper.models.breeding.seen import BreedingEvent, SeenKind

__all__ = ["BreedingEvent", "ClutchStep", "Incubation", "SeenKind", "StepKind"]
