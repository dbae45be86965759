"""Slab versions in groups that one trace answers."""

import numpy as np
import pytest

from paneglow.scene import Slab, slabs_by_scattering


@pytest.mark.parametrize(
    ("scatter_per_mm", "groups"),
    [
        ((), ()),
        ((7.5,), ((0,),)),
        ((7.5, 2.5, 7.5, 15.0, 2.5), ((0, 2), (1, 4), (3,))),
    ],
)
def test_versions_that_scatter_alike_stand_together_in_the_order_of_the_first(scatter_per_mm, groups):
    slabs = [Slab(name=f"{i}", scatter_per_mm=s, absorb_per_mm=np.zeros(1)) for i, s in enumerate(scatter_per_mm)]
    assert slabs_by_scattering(slabs) == groups
