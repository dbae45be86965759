"""The published sources of the models in use, printed with every result."""

from paneglow.units import Record


class ModelReference(Record):
    """One model and where it was published."""

    model: str  # Which model
    reference: str  # Where it is published, or what it was computed with


MODEL_REFERENCES: tuple[ModelReference, ...] = (
    ModelReference(
        model="Reflection and refraction at a bare face, unpolarised light",
        reference="S. J. Byrnes, Multilayer optical calculations, arXiv:1603.02720, 2016, eq. (6)",
    ),
    ModelReference(
        model="Direction of scattered light in the laminate",
        reference="L. G. Henyey, J. L. Greenstein, Astrophysical Journal 93, 70, 1941, doi 10.1086/144246",
    ),
    ModelReference(
        model="Photon paths through a scattering slab with mismatched faces",
        reference="L. Wang, S. L. Jacques, L. Zheng, Comput. Methods Programs Biomed. 47, 131-146, 1995",
    ),
    ModelReference(
        model="Intensity of an LED against angle, cosine power",
        reference="I. Moreno, C.-C. Sun, Optics Express 16(3), 1808-1819, 2008",
    ),
    ModelReference(
        model="Colour and luminance",
        reference="ISO/CIE 11664-1:2019, CIE 1931 standard observer, as tabulated by colour-science 0.4.7",
    ),
    ModelReference(
        model="Colours of the pictures", reference="IEC 61966-2-1:1999, sRGB (constants seen in a secondary page)"
    ),
    ModelReference(
        model="Current through an LED",
        reference="W. Shockley, Bell Syst. Tech. J. 28, 435-489, 1949, with a series resistance (from memory)",
    ),
    ModelReference(
        model="Light of an LED against its current",
        reference="I. E. Titkov et al., IEEE J. Quantum Electron. 50, 911-920, 2014 (from memory)",
    ),
    ModelReference(
        model="Charge of a cell in two wells",
        reference="J. F. Manwell, J. G. McGowan, Solar Energy 50, 399-405, 1993 (from memory)",
    ),
    ModelReference(
        model="Preferred values of resistors",
        reference="IEC 60063:2015, table 1 (its abstract and a list of its values seen)",
    ),
    ModelReference(model="Limits of flicker", reference="IEEE 1789-2015 (from memory)"),
)
