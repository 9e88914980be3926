"""Wind on the boom and on the hanging load, and the wind a lift may be made in.

Contents
--------
Pressure and height (``pressure``): :func:`dynamic_pressure_kPa`,
:func:`wind_speed_of_pressure_m_s`, :func:`gust_factor`, :func:`gust_wind_speed_m_s`,
:func:`mean_wind_speed_of_gust_m_s`, :func:`power_law_wind_speed_m_s`, :func:`wind_force_kN`.
Machine (``boom``): :func:`boom_wind`, :func:`out_of_service_wind`.
Load (``load``): :func:`hanging_load`, :func:`wind_speed_at_hang_angle_m_s`,
:func:`permissible_wind`.
Tables (``tables``): :func:`in_service_wind`, :func:`beaufort_number`,
:func:`beaufort_band_m_s`, :func:`force_coefficient_band` and their data.

Conventions
-----------
``wind_towards_deg`` is the direction the wind blows *towards*, measured from the boom's
outward direction in plan, anticlockwise positive seen from above: 0 pushes the load
outward, 90 to the left of the boom, 180 back towards the machine.
Pressures are in kPa (1 kPa = 1000 N/m2). An area is a real projected area; area times force
coefficient is called the wind area.
"""

from liftcalc.wind.boom import (
    BoomState,
    BoomWind,
    OutOfServiceWind,
    WindProfile,
    boom_wind,
    out_of_service_wind,
)
from liftcalc.wind.load import (
    MAX_HANG_ANGLE_DEG,
    HangingLoad,
    PermissibleWind,
    hanging_load,
    permissible_wind,
    wind_speed_at_hang_angle_m_s,
)
from liftcalc.wind.pressure import (
    AIR_DENSITY_CRANE_KG_M3,
    AIR_DENSITY_ISA_KG_M3,
    MAX_PROFILE_HEIGHT_M,
    dynamic_pressure_kPa,
    gust_factor,
    gust_wind_speed_m_s,
    mean_wind_speed_of_gust_m_s,
    power_law_wind_speed_m_s,
    wind_force_kN,
    wind_speed_of_pressure_m_s,
)
from liftcalc.wind.tables import (
    BEAUFORT,
    FORCE_COEFFICIENT_BANDS,
    IN_SERVICE_WIND,
    InServiceWind,
    LoadShape,
    WindClass,
    beaufort_band_m_s,
    beaufort_number,
    force_coefficient_band,
    in_service_wind,
)

__all__ = [
    "AIR_DENSITY_CRANE_KG_M3",
    "AIR_DENSITY_ISA_KG_M3",
    "BEAUFORT",
    "BoomState",
    "BoomWind",
    "FORCE_COEFFICIENT_BANDS",
    "HangingLoad",
    "IN_SERVICE_WIND",
    "InServiceWind",
    "LoadShape",
    "MAX_HANG_ANGLE_DEG",
    "MAX_PROFILE_HEIGHT_M",
    "OutOfServiceWind",
    "PermissibleWind",
    "WindClass",
    "WindProfile",
    "beaufort_band_m_s",
    "beaufort_number",
    "boom_wind",
    "dynamic_pressure_kPa",
    "force_coefficient_band",
    "gust_factor",
    "gust_wind_speed_m_s",
    "hanging_load",
    "in_service_wind",
    "mean_wind_speed_of_gust_m_s",
    "out_of_service_wind",
    "permissible_wind",
    "power_law_wind_speed_m_s",
    "wind_force_kN",
    "wind_speed_at_hang_angle_m_s",
    "wind_speed_of_pressure_m_s",
]
