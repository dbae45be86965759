"""Photon kernels: scalars and arrays only."""
