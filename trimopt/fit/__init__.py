"""Sales: does a width fit, with what, and what does it cost in paper?"""

from trimopt.fit.alternatives import (
    Alternative as Alternative,
    solve_alternatives as solve_alternatives,
)
from trimopt.fit.answer import Answer as Answer, Verdict as Verdict
from trimopt.fit.curve import Curve as Curve, CurvePoint as CurvePoint, curve_of as curve_of
from trimopt.fit.enquiry import ENQUIRY as ENQUIRY, Enquiry as Enquiry, as_order as as_order
from trimopt.fit.enquiry_service import EnquiryService as EnquiryService
from trimopt.fit.extra_paper import ExtraPaper as ExtraPaper
from trimopt.fit.fits_alone import Alone as Alone, alone as alone
from trimopt.fit.planned_run import Basis as Basis, basis_of_plan as basis_of_plan
from trimopt.fit.replanned import RunWithEnquiry as RunWithEnquiry
from trimopt.fit.run_with_enquiry import (
    PlacedSet as PlacedSet,
    Placement as Placement,
    place_enquiry as place_enquiry,
)
from trimopt.fit.when import When as When
