"""Tracing on an NVIDIA GPU, by the same kernels as on the CPU."""
