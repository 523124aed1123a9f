"""The kinds of rules that a claim policy is made of, and the conditions under which one is asked.

Each is a small class whose fields are what the policy file may set (see `rule_type`). A rule knows concepts
of a claim, such as a cause or a reading; words and components are in the policy file. The modules beside
this one hold them by theme.
"""

from __future__ import annotations

from collections.abc import Callable

from jobnotes.checking.case import Case
from jobnotes.checking.diagnosis_rules import CodesGone, ProofAfterRepair, Reading
from jobnotes.checking.labour_rules import (
    LabourClaimedOnce,
    LabourClear,
    LabourFitsClock,
    LabourPresent,
    LabourWithinStandard,
)
from jobnotes.checking.narrative_rules import (
    CauseNamesComponentAndFailure,
    CauseSupported,
    NeedsKind,
    Said,
)
from jobnotes.checking.part_rules import (
    CausalPartFailure,
    CausalPartHas,
    CausalPartNamed,
    PartsExplained,
)
from jobnotes.checking.photo_rules import PhotoOf
from jobnotes.checking.rule_type import RuleType
from jobnotes.checking.vehicle_rules import (
    ClaimedWithin,
    DatesInOrder,
    IdentityAgrees,
    JobHas,
    OdometerRises,
    WithinDistance,
    WithinWarranty,
)
from jobnotes.checking.whole_rules import ChargesClear, NoLooseEnds, NothingDoubtful, NotRepeated, Priced

RULE_TYPES: dict[str, type[RuleType]] = {
    "needs_kind": NeedsKind,
    "said": Said,
    "cause_names_component_and_failure": CauseNamesComponentAndFailure,
    "cause_supported": CauseSupported,
    "codes_gone": CodesGone,
    "reading": Reading,
    "proof_after_repair": ProofAfterRepair,
    "causal_part_named": CausalPartNamed,
    "causal_part_has": CausalPartHas,
    "causal_part_failure": CausalPartFailure,
    "parts_explained": PartsExplained,
    "labour_present": LabourPresent,
    "labour_fits_clock": LabourFitsClock,
    "labour_within_standard": LabourWithinStandard,
    "labour_claimed_once": LabourClaimedOnce,
    "labour_clear": LabourClear,
    "job_has": JobHas,
    "odometer_rises": OdometerRises,
    "within_distance": WithinDistance,
    "within_warranty": WithinWarranty,
    "claimed_within": ClaimedWithin,
    "dates_in_order": DatesInOrder,
    "identity_agrees": IdentityAgrees,
    "not_repeated": NotRepeated,
    "photo_of": PhotoOf,
    "priced": Priced,
    "charges_clear": ChargesClear,
    "nothing_doubtful": NothingDoubtful,
    "no_loose_ends": NoLooseEnds,
}

# What only the vehicle can tell: unless the policy says otherwise, such a gap can be put right while it is in
# the workshop, and any other at the desk too. Common practice, no source.
NEEDS_VEHICLE: tuple[type[RuleType], ...] = (
    CauseSupported,
    CodesGone,
    Reading,
    ProofAfterRepair,
    CausalPartHas,
    PartsExplained,
    OdometerRises,
    PhotoOf,
    NoLooseEnds,
)

# When a rule applies at all; all that are named must hold.
CONDITIONS: dict[str, Callable[[Case], object]] = {
    "cause": lambda case: case.causes,
    "cause_named": lambda case: any(c.component and c.failure for c in case.cause_statements),
    "causal_part": lambda case: case.causal_parts,
    "codes": lambda case: case.codes,
    "measured": lambda case: any(r.limit and r.conditions for r in case.readings),
    "parts_fitted": lambda case: case.parts_fitted,
    "labour": lambda case: case.labour.said,
    "registration": lambda case: case.record.job.registration,
    "details": lambda case: case.record.details or case.record.stated,
}
