"""Parts, laminates, coatings and surfaces, with a source for every value."""

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

__all__ = [
    "AbsorptionTable",
    "Body",
    "Catalog",
    "EmissionTable",
    "Film",
    "Laminate",
    "Part",
    "Peak",
    "Spectrum",
    "SpectrumTable",
    "Surface",
]
