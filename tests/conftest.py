"""Kernels are compiled once, before several workers start: else each would compile them for itself."""


def pytest_sessionstart(session):
    is_worker = hasattr(session.config, "workerinput")
    if not is_worker and getattr(session.config.option, "numprocesses", None):
        from slab_scenes import lambertian, slab_scene, trace_slab

        slab = {"optical_depth": 1.0, "albedo": 0.9, "asymmetry": 0.5, "refractive_index": 1.5}
        trace_slab(slab_scene(emitter=lambertian(), **slab), photons=32, seed=1)
