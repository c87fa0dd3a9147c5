"""Load: tension, stress and stiffness of strings, and the harp's total."""

DENSITY_KG_PER_M3 = {"gut": 1320.0, "nylon": 1140.0}
