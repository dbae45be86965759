"""Board and catalogue to a scene: geometry and coefficients, no part names."""

from paneglow.scene.build import FILM_PREFIX, PLATED_WALL, build_scene
from paneglow.scene.plain import check_scene, lambertian_rectangle
from paneglow.scene.pose import ASSUMED_PLACES
from paneglow.scene.records import (
    BODY_HOLE,
    BODY_LAMINATE,
    BODY_OUTSIDE,
    BODY_PLATED_HOLE,
    Dome,
    Emitter,
    FaceClasses,
    InnerLayer,
    LightWall,
    Scene,
    Sheet,
    Slab,
    slabs_by_scattering,
)
from paneglow.scene.surroundings import ASSUMED_SURROUNDINGS

__all__ = [
    "ASSUMED_PLACES",
    "ASSUMED_SURROUNDINGS",
    "BODY_HOLE",
    "BODY_LAMINATE",
    "BODY_OUTSIDE",
    "BODY_PLATED_HOLE",
    "Dome",
    "Emitter",
    "FILM_PREFIX",
    "FaceClasses",
    "InnerLayer",
    "LightWall",
    "PLATED_WALL",
    "Scene",
    "Sheet",
    "Slab",
    "build_scene",
    "check_scene",
    "lambertian_rectangle",
    "slabs_by_scattering",
]
