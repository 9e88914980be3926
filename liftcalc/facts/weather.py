"""Weather of a lift: the owner's values to hold and go on, and what is expected on the day."""

from typing import Annotated, Self

from pydantic import Field, model_validator

from liftcalc.facts.base import Fact, NonNegative, Positive, Text

Celsius = Annotated[float, Field(ge=-60, le=80)]
Clock = Annotated[Text, Field(pattern=r"^([01][0-9]|2[0-3]):[0-5][0-9]$")]


class Weather(Fact):
    """The owner's rule, printed with ``reference``, and the day as expected.

    ``restart_percent``: of the gust at which the lift holds, below which it goes on after ``calm_min`` minutes.
    ``rigging_gust_m_s``: for rigging up and down, by the machine's manual; ``machine_low_C`` and ``machine_high_C``:
    the manual's range. ``low_C`` and ``high_C``: forecast of the air while the lift is made; ``load_C``: hottest that
    the slings touch, where that is more. ``light_from`` and ``light_to``: daylight; ``lighting_lux``: of the lighting
    where load and signaller are. ``ice_t``: ice and snow that may hang on load, rigging and boom; the lift's deductions
    must hold as much, named ice.
    """

    reference: Text
    restart_percent: Annotated[float, Field(ge=10, le=95)]
    calm_min: Annotated[float, Field(ge=1, le=240)]
    lightning_min: Annotated[float, Field(ge=30, le=240)] = 30.0
    visibility_m: Positive
    rigging_gust_m_s: Annotated[float, Field(ge=1, le=30)] | None = None
    manual: Text | None = None
    machine_low_C: Celsius | None = None
    machine_high_C: Celsius | None = None
    low_C: Celsius | None = None
    high_C: Celsius | None = None
    load_C: Annotated[float, Field(ge=-60, le=600)] | None = None
    start: Clock | None = None
    end: Clock | None = None
    light_from: Clock | None = None
    light_to: Clock | None = None
    lighting_lux: NonNegative | None = None
    ice_t: NonNegative | None = None

    @model_validator(mode="after")
    def _ordered(self) -> Self:
        for low, high in (
            ("machine_low_C", "machine_high_C"), ("low_C", "high_C"), ("start", "end"),
            ("light_from", "light_to"),
        ):  # fmt: skip
            one, other = getattr(self, low), getattr(self, high)
            if (one is None) != (other is None) or (one is not None and not one <= other):
                raise ValueError(f"{low} and {high} together, the first not above the second")
        if self.manual is None and not self.rigging_gust_m_s is self.machine_low_C is None:
            raise ValueError("manual, the document that states gusts and temperatures of the crane")
        return self
