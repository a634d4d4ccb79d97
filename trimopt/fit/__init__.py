"""Sales: does a width fit, with what, and what does it cost in paper?"""

from trimopt.fit.alternatives import Alternative, solve_alternatives
from trimopt.fit.answer import Answer, Verdict
from trimopt.fit.curve import Curve, CurvePoint, curve_of
from trimopt.fit.enquiry import ENQUIRY, Enquiry, as_order
from trimopt.fit.enquiry_service import EnquiryService
from trimopt.fit.fits_alone import Alone, alone
from trimopt.fit.planned_run import Basis, basis_of_plan, basis_of_run
from trimopt.fit.run_with_enquiry import PlacedSet, Placement, RunCount, place_enquiry
from trimopt.fit.when import When

__all__ = [
    "ENQUIRY",
    "Alone",
    "Alternative",
    "Answer",
    "Basis",
    "Curve",
    "CurvePoint",
    "Enquiry",
    "EnquiryService",
    "PlacedSet",
    "Placement",
    "RunCount",
    "Verdict",
    "When",
    "alone",
    "as_order",
    "basis_of_plan",
    "basis_of_run",
    "curve_of",
    "place_enquiry",
    "solve_alternatives",
]
