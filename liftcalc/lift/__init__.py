"""One lift, composed from facts and calculation into check rows."""

from liftcalc.lift.assess import LiftAssessment, assess_lift, circle_radii_m

__all__ = ["LiftAssessment", "assess_lift", "circle_radii_m"]
