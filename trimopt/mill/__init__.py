"""The mill: winder, sheeters, jumbo, grades and values."""

from trimopt.mill.model import Core, Grade, Jumbo, Mill, Sheeter, ToleranceStep, Values, Winder

__all__ = ["Core", "Grade", "Jumbo", "Mill", "Sheeter", "ToleranceStep", "Values", "Winder"]
