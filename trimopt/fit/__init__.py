"""Sales: does a width fit, with what, and what does it cost in paper?"""

from trimopt.fit.alternatives import Alternative, solve_alternatives
from trimopt.fit.answer import Answer, Verdict
from trimopt.fit.curve import Curve, CurvePoint, curve_of
from trimopt.fit.enquiry import ENQUIRY, Enquiry, as_order
from trimopt.fit.enquiry_service import EnquiryService
from trimopt.fit.extra_paper import ExtraPaper
from trimopt.fit.fits_alone import Alone, alone
from trimopt.fit.planned_run import Basis, basis_of_plan, basis_of_run
from trimopt.fit.replanned import RunWithEnquiry
from trimopt.fit.run_with_enquiry import PlacedSet, Placement, place_enquiry
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
    "ExtraPaper",
    "PlacedSet",
    "Placement",
    "RunWithEnquiry",
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
