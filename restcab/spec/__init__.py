"""What the user declares: the spec file, read, checked and put in SI."""

from restcab.spec.model import InputRow, Spec
from restcab.spec.reading import default_spec, load_spec
from restcab.spec.surfaces import Cab, Layer, Surface, Zone

__all__ = ["Cab", "InputRow", "Layer", "Spec", "Surface", "Zone", "default_spec", "load_spec"]
