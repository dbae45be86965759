"""Parts, laminates, coatings and surfaces, with a source for every value."""

from paneglow.catalog.construction import (
    Evidence,
    MaximumRatings,
    PolarityMark,
    SolderingLimits,
    TapeOrientation,
    Terminal,
    Terminals,
)
from paneglow.catalog.electrical import Electrical, ForwardCurve
from paneglow.catalog.entry import build_new_part
from paneglow.catalog.light import (
    film_reflectance,
    film_transmittance,
    laminate_absorb_per_mm,
    part_flux_lm,
    part_polar_table,
    part_spectral_nodes,
    part_spectral_power,
    surface_reflectance,
)
from paneglow.catalog.questions import PART_QUESTIONS, Question, answer
from paneglow.catalog.read import find_film, find_laminate, find_part, find_surface, read_catalog
from paneglow.catalog.records import (
    AbsorptionTable,
    Body,
    Catalog,
    EmissionTable,
    Film,
    Laminate,
    Part,
    Peak,
    Spectrum,
    SpectrumTable,
    Surface,
)
from paneglow.catalog.table import read_parts_csv, to_parts_csv
from paneglow.catalog.timing import Timing
from paneglow.catalog.write import to_parts_toml

__all__ = [
    "PART_QUESTIONS",
    "Question",
    "answer",
    "build_new_part",
    "read_parts_csv",
    "to_parts_csv",
    "to_parts_toml",
    "Timing",
    "Terminals",
    "Terminal",
    "TapeOrientation",
    "SolderingLimits",
    "PolarityMark",
    "MaximumRatings",
    "Evidence",
    "AbsorptionTable",
    "Body",
    "Catalog",
    "Electrical",
    "EmissionTable",
    "Film",
    "ForwardCurve",
    "Laminate",
    "Part",
    "Peak",
    "Spectrum",
    "SpectrumTable",
    "Surface",
    "film_reflectance",
    "film_transmittance",
    "find_film",
    "find_laminate",
    "find_part",
    "find_surface",
    "laminate_absorb_per_mm",
    "part_flux_lm",
    "part_polar_table",
    "part_spectral_nodes",
    "part_spectral_power",
    "read_catalog",
    "surface_reflectance",
]
