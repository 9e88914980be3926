"""Rigging: slings, shackles, hitches, beams, and the weakest item.

Contents
--------
``tables``   published sling tables with edition and owner
``uniform``  leg factors of the uniform load method, and when it may be used
``hitches``  choke, basket and bend factors; rating of one leg in its hitch
``symmetric`` tension of the legs of a symmetrical bridle
``slings``   tension of 1 to 4 legs, centre of gravity anywhere between the lugs
``attitude`` how a load hangs on slings of stated length; elastic share of four legs
``shackles`` side load and legs gathered in the bow
``beams``    spreader bars and lifting beams
``under_beam`` how a load hangs under a beam when its centre of gravity is off
``members``  strength of a beam's section
``assembly`` hook height and headroom; weakest item of the whole

Method: find the force in each item by statics (``bridle_tensions``, ``spreader_forces``), its
rating in this use (``leg_rating``, ``shackle_rating``), and let ``weakest_item`` name the one
that governs. The uniform load method of the sling standards (``uniform_load_leg_factor``,
``sling_table_wll``) stands beside it, for symmetrical bridles only.
"""

from liftcalc.rigging.assembly import (
    RiggingHeight,
    RiggingItem,
    WeakestItem,
    rigging_height,
    sling_height_m,
    sling_length_m,
    weakest_item,
)
from liftcalc.rigging.attitude import (
    CgEnvelope,
    ElasticShare,
    Hang,
    cg_envelope,
    elastic_share,
    hang_on_slings,
)
from liftcalc.rigging.beams import (
    LiftingBeam,
    Spreader,
    lifting_beam_forces,
    spreader_forces,
)
from liftcalc.rigging.hitches import (
    CHOKE_FACTOR_EN,
    ENDLESS_CHOKE_FACTOR_EN,
    EyeBearing,
    Hitch,
    LegRating,
    TextileMode,
    basket_factor,
    bend_efficiency_ratio,
    choke_angle_ratio,
    leg_rating,
    soft_eye_bearing,
    textile_mode_factor,
)
from liftcalc.rigging.members import (
    DESIGN_FACTORS,
    BeamSection,
    DesignCategory,
    MemberCheck,
    member_check,
)
from liftcalc.rigging.shackles import (
    SIDE_LOAD_BANDS,
    PinKind,
    ShackleRating,
    shackle_rating,
    side_load_angle_deg,
    side_load_ratio,
    widest_included_angle_deg,
)
from liftcalc.rigging.slings import (
    Bridle,
    ShareRule,
    bridle_tensions,
)
from liftcalc.rigging.symmetric import (
    CarryingRule,
    SymmetricBridle,
    carrying_legs,
    leg_load_factor,
    symmetric_bridle,
)
from liftcalc.rigging.tables import (
    ASME_B30_9_CHAIN,
    ASME_B30_9_CHOKE,
    ASME_B30_26,
    BEND_EFFICIENCY,
    CHAIN_SLINGS_GRADE_8_EN,
    CHAIN_SLINGS_GRADE_80_US,
    EN_818_4,
    EN_1492,
    EN_13414_1,
    SHACKLE_SIZES,
    SHACKLES_GRADE_6,
    WIRE_ROPE_SLINGS_EN,
    Edition,
    SlingTable,
    SlingTableRow,
    TableRating,
    UsChainRow,
    sling_table_wll,
    us_chain_rating,
)
from liftcalc.rigging.under_beam import UnderBeam, hang_under_beam
from liftcalc.rigging.uniform import (
    UniformLoad,
    uniform_load_applies,
    uniform_load_leg_factor,
)

__all__ = [
    "ASME_B30_26",
    "ASME_B30_9_CHAIN",
    "ASME_B30_9_CHOKE",
    "BEND_EFFICIENCY",
    "BeamSection",
    "Bridle",
    "CHAIN_SLINGS_GRADE_80_US",
    "CHAIN_SLINGS_GRADE_8_EN",
    "CHOKE_FACTOR_EN",
    "CarryingRule",
    "CgEnvelope",
    "DESIGN_FACTORS",
    "DesignCategory",
    "ENDLESS_CHOKE_FACTOR_EN",
    "EN_13414_1",
    "EN_1492",
    "EN_818_4",
    "Edition",
    "ElasticShare",
    "EyeBearing",
    "Hang",
    "Hitch",
    "LegRating",
    "LiftingBeam",
    "MemberCheck",
    "PinKind",
    "RiggingHeight",
    "RiggingItem",
    "SHACKLES_GRADE_6",
    "SHACKLE_SIZES",
    "SIDE_LOAD_BANDS",
    "ShackleRating",
    "ShareRule",
    "SlingTable",
    "SlingTableRow",
    "Spreader",
    "SymmetricBridle",
    "TableRating",
    "TextileMode",
    "UnderBeam",
    "UniformLoad",
    "UsChainRow",
    "WIRE_ROPE_SLINGS_EN",
    "WeakestItem",
    "basket_factor",
    "bend_efficiency_ratio",
    "bridle_tensions",
    "carrying_legs",
    "cg_envelope",
    "choke_angle_ratio",
    "elastic_share",
    "hang_on_slings",
    "hang_under_beam",
    "leg_load_factor",
    "leg_rating",
    "lifting_beam_forces",
    "member_check",
    "rigging_height",
    "shackle_rating",
    "side_load_angle_deg",
    "side_load_ratio",
    "sling_height_m",
    "sling_length_m",
    "sling_table_wll",
    "soft_eye_bearing",
    "spreader_forces",
    "symmetric_bridle",
    "textile_mode_factor",
    "uniform_load_applies",
    "uniform_load_leg_factor",
    "us_chain_rating",
    "weakest_item",
    "widest_included_angle_deg",
]
