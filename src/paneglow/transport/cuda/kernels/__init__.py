"""What runs on the GPU alone: the loop over photons."""
