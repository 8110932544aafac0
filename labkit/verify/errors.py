"""What can be wrong with a question put to the proof."""

from __future__ import annotations

from labkit.base import LabkitError

__all__ = ["ProofError", "RequirementError"]


class ProofError(LabkitError):
    """A proof that cannot be begun: an unknown thing may happen, or a set-up that the model does not cover."""

    default_code = "proof"


class RequirementError(ProofError):
    """A requirement that cannot be read, or that names something unknown."""

    default_code = "requirement"
