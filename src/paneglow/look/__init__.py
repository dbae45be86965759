"""What an eye, a camera and a lit room see."""

from paneglow.look.records import Look, Pictures, WindowLook

__all__ = ["Look", "Pictures", "WindowLook"]
