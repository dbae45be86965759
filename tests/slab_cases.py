"""Slabs whose total reflectance R and transmittance T are published or were computed independently.

Sources: case 1a, van de Hulst, *Multiple Light Scattering* vol. 2, 1980, and case 2, Giovanelli, Optica Acta 2:153,
1955, both as quoted in Wang and Jacques, *Monte Carlo Modeling of Light Transport in Multi-layered Tissues in
Standard C*, 1992, tables 6.1 and 6.2. N2 to N4: computed with PythonicDISORT 1.8 (48 streams). M cases, refractive
index 1.5 in air: computed, up to three independent codes (a Monte Carlo, iadpython 0.5.3, a volume path tracer); the
stated spread of the codes is taken into the standard error. Reflectance includes the specular part throughout.
"""

MATCHED = {"refractive_index": 1.0}
IN_AIR = {"refractive_index": 1.5}
BOARD_LIKE = {"asymmetry": 0.8, "thickness_mm": 1.6, **IN_AIR}
M4 = {"optical_depth": 8.032, "albedo": 8.0 / 8.032, **BOARD_LIKE}
VAN_DE_HULST = {"optical_depth": 2.0, "albedo": 0.9, "asymmetry": 0.75}
ISOTROPIC = {"optical_depth": 1.0, "albedo": 1.0, "asymmetry": 0.0}

# name: slab, angle of incidence in degrees (None: Lambertian), R, T, spread of the reference
CASES = {
    "1a van de Hulst 1980": ({**VAN_DE_HULST, **MATCHED}, 0.0, 0.09739, 0.66096, 0.00001),
    "N1": ({**VAN_DE_HULST, **MATCHED}, 0.0, 0.097395, 0.660958, 0.0),
    "N2": ({**VAN_DE_HULST, **MATCHED}, 60.0, 0.23357, 0.41589, 0.00001),
    "N3": ({**ISOTROPIC, **MATCHED}, 0.0, 0.341344, 0.658656, 0.0),
    "N4": ({"optical_depth": 10.0, "albedo": 0.99, "asymmetry": 0.9, **MATCHED}, 0.0, 0.247628, 0.589081, 0.0),
    "M1 at 0": ({**VAN_DE_HULST, **IN_AIR}, 0.0, 0.12682, 0.49316, 0.00003),
    "M1 at 60": ({**VAN_DE_HULST, **IN_AIR}, 60.0, 0.19746, 0.35245, 0.00003),
    "M2 at 0": ({**ISOTROPIC, **IN_AIR}, 0.0, 0.35895, 0.64105, 0.00009),
    "M2 at 30": ({**ISOTROPIC, **IN_AIR}, 30.0, 0.3705, 0.6295, 0.0002),
    "M2 at 60": ({**ISOTROPIC, **IN_AIR}, 60.0, 0.43339, 0.56661, 0.00005),
    "M2 Lambertian": ({**ISOTROPIC, **IN_AIR}, None, 0.42030, 0.57970, 0.00013),
    "M3": ({"optical_depth": 8.0, "albedo": 1.0, **BOARD_LIKE}, 0.0, 0.47362, 0.52638, 0.0003),
    "M4 at 0": (M4, 0.0, 0.4105, 0.4591, 0.0001),
    "M4 at 30": (M4, 30.0, 0.41934, 0.44906, 0.00008),
    "M4 at 60": (M4, 60.0, 0.46371, 0.40900, 0.0001),
    "M4 Lambertian": (M4, None, 0.45698, 0.41735, 0.00009),
    "M5": ({"optical_depth": 10.0, "albedo": 0.99, "asymmetry": 0.9, **IN_AIR}, 0.0, 0.2646, 0.4291, 0.0002),
}
