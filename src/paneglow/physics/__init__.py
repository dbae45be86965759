"""Pure functions of the physics, a topic per file."""

from paneglow.physics.cell import (
    CellCurve,
    CellState,
    cell_open_circuit_v,
    cell_resistance_ohm,
    cells_in_series,
    drain_cell,
    drawn_frac,
)
from paneglow.physics.diode import (
    DiodeCurve,
    FluxCurve,
    fit_diode,
    fit_flux,
    junction_slope_v,
    relative_light,
    saturation_ma,
    shockley_current_ma,
    stacked_curves,
)
from paneglow.physics.emission import (
    PolarTable,
    cosine_power_table,
    polar_table,
)
from paneglow.physics.fresnel import diffuse_reflectance, fresnel_reflectance
from paneglow.physics.laminate import (
    absorb_per_mm,
    coefficient_at,
    scatter_per_mm,
    sheet_transmittance,
    shifted_shares,
)
from paneglow.physics.spectrum import (
    fit_spectral_nodes,
    gaussian_lines,
    luminous_efficacy_lm_w,
    node_powers,
    node_weights,
    observer_xyz,
    spectral_nodes,
    tabulated_power,
    tristimulus,
    visible_axis_nm,
)
from paneglow.physics.tables import cie_tables

__all__ = [
    "CellCurve",
    "CellState",
    "DiodeCurve",
    "FluxCurve",
    "PolarTable",
    "absorb_per_mm",
    "cell_open_circuit_v",
    "cell_resistance_ohm",
    "cells_in_series",
    "cie_tables",
    "coefficient_at",
    "cosine_power_table",
    "diffuse_reflectance",
    "drain_cell",
    "drawn_frac",
    "fit_diode",
    "fit_flux",
    "fit_spectral_nodes",
    "fresnel_reflectance",
    "gaussian_lines",
    "junction_slope_v",
    "luminous_efficacy_lm_w",
    "node_powers",
    "node_weights",
    "observer_xyz",
    "polar_table",
    "relative_light",
    "saturation_ma",
    "scatter_per_mm",
    "sheet_transmittance",
    "shifted_shares",
    "shockley_current_ma",
    "stacked_curves",
    "spectral_nodes",
    "tabulated_power",
    "tristimulus",
    "visible_axis_nm",
]
