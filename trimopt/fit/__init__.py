"""Sales: does a width fit, with what, and what does it cost in paper?"""

from trimopt.fit.alternatives import Helped, what_would_help
from trimopt.fit.answer import Answer, EnquiryService, Verdict
from trimopt.fit.curve import Curve, CurvePoint, curve_of
from trimopt.fit.enquiry import ENQUIRY, Enquiry, as_order
from trimopt.fit.fits_alone import Alone, alone
from trimopt.fit.planned_run import Basis, basis_of_plan, basis_of_run
from trimopt.fit.run_with_enquiry import Counted, Riding, RidingSet, ride

__all__ = [
    "ENQUIRY",
    "Alone",
    "Answer",
    "Basis",
    "Counted",
    "Curve",
    "CurvePoint",
    "Enquiry",
    "EnquiryService",
    "Helped",
    "Riding",
    "RidingSet",
    "Verdict",
    "alone",
    "as_order",
    "basis_of_plan",
    "basis_of_run",
    "curve_of",
    "ride",
    "what_would_help",
]
