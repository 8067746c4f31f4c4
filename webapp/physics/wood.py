"""How much water wood holds once it has settled with the air around it."""

from __future__ import annotations

import math


def moisture_content(temperature_c: float, humidity_percent: float) -> float:
    """Equilibrium moisture content of wood, percent of its dry weight.

    ``temperature_c`` from -10 to 100, ``humidity_percent`` (relative) from 0 to 100. Wood takes weeks
    to get there. Hailwood-Horrobin sorption form with h the humidity as a fraction:
    ``1800 / W * (K h / (1 - K h) + (K1 K h + 2 K1 K2 K^2 h^2) / (1 + K1 K h + K1 K2 K^2 h^2))``.
    Raises ``ValueError`` outside those ranges. Source: A. J. Hailwood and S. Horrobin, Absorption of water by
    polymers, Transactions of the Faraday Society 42B (1946), 84-102; the numbers: W. T. Simpson, 1998,
    FPL-RN-0268 (Celsius form), and Wood Handbook, FPL-GTR-190, 2010, p. 4-3, FPL-GTR-282, 2021, chapter 4.
    """
    if not (math.isfinite(temperature_c) and -10 <= temperature_c <= 100):
        raise ValueError("the temperature must lie between -10 and 100 °C")
    if not (math.isfinite(humidity_percent) and 0 <= humidity_percent <= 100):
        raise ValueError("the humidity must lie between 0 and 100 %")
    t = temperature_c
    weight = 349 + 1.29 * t + 0.0135 * t**2
    k = 0.805 + 0.000736 * t - 0.00000273 * t**2
    k1 = 6.27 - 0.00938 * t - 0.000303 * t**2
    k2 = 1.91 + 0.0407 * t - 0.000293 * t**2
    kh = k * humidity_percent / 100
    free = kh / (1 - kh)
    bound = (k1 * kh + 2 * k1 * k2 * kh**2) / (1 + k1 * kh + k1 * k2 * kh**2)
    return 1800 / weight * (free + bound)
