"""An invented GFRC recipe for the tests of what is mixed."""

from __future__ import annotations

from curing.mixture import Component, Mix, Recipe, for_layer, normalise

# 100 cement, 20 pozzolan, 120 sand; 5 % polymer solids of cement from a 46 % emulsion; 4 % iron
# oxide; water to w/cm 0.34; fibre 2.5 % of the total.
PREMIX = Recipe(
    (
        Component("white cement", "cement", 100, density=3150),
        Component("pozzolan", "pozzolan", 20, density=2600),
        Component("sand", "sand", 120, density=2650, absorption=0.007),
        Component("water", "water", 0.34, by="water-of-cementitious"),
        Component("polymer", "polymer", 0.05, by="solids-of-cement", density=1060, solids=0.46),
        Component("iron oxide", "pigment", 0.04, by="cement", density=4800),
        Component("plasticizer", "admixture", 0.5, density=1080, solids=0.30),
        Component("glass fibre", "fibre", 0.025, by="total", density=2680),
    )
)


def premix(fibre: float = 0.025) -> Mix:
    return for_layer(normalise(PREMIX), fibre)
