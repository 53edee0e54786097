"""Indices of body, chambers, walls and volumes: formula, unit, inputs, sources."""

from tableside.derive.allometry import allometric_index, annular_excursion_index
from tableside.derive.body import cat_body_surface, dog_body_surface, mass_by_weight
from tableside.derive.chambers import (
    fractional_area_change,
    fractional_shortening,
    ventricular_mass,
)
from tableside.derive.formula import Formula
from tableside.derive.ratios import (
    diameter_ratio,
    echo_ratio_index,
    relative_wall_thickness,
    sphericity_index,
)
from tableside.derive.volumes import (
    area_length_volume,
    ejection_fraction,
    teichholz_volume,
    volume_by_surface,
    volume_by_weight,
)
from tableside.model import Species

PEOPLE = "the formula was fitted to people"
TEICHHOLZ = "volume by Teichholz: one diameter stands for the whole ventricle"
AREA_LENGTH = "volume by area and length in one view"
DISCS = "volume traced in two dimensions (discs)"
NOT_READ = "the constant was not read on a page"


def _scaled(gives: str, size: str, exponent: float, source: str = "cornell2004") -> Formula:
    return Formula(
        function=allometric_index,
        gives=gives,
        unit=f"{{cm/kg^{exponent:g}}}",
        takes={"size_cm": size, "weight_kg": "weight"},
        constants={"exponent": exponent},
        sources=(source,),
        species=Species.DOG,
    )


def _ratio(gives: str, size: str, other: str, *sources: str) -> Formula:
    return Formula(
        function=diameter_ratio,
        gives=gives,
        unit="1",
        takes={"size_cm": size, "other_cm": other},
        sources=sources,
        together=True,
    )


def _echo_ratio(size: str) -> Formula:
    return Formula(
        function=echo_ratio_index,
        gives=f"{size}:Aow",
        unit="1",
        takes={"size_cm": size, "weight_kg": "weight"},
        sources=("brown2003",),
        assumes=(NOT_READ,),
    )


def _volume(gives: str, takes: dict[str, str], assumes: str) -> Formula:
    by_diameter = assumes == TEICHHOLZ
    return Formula(
        function=teichholz_volume if by_diameter else area_length_volume,
        gives=gives,
        unit="mL",
        takes=takes,
        sources=("teichholz1976" if by_diameter else "lang2015",),
        assumes=(assumes,),
        together=True,
    )


def _ejection(gives: str, edv: str, esv: str, assumes: str) -> Formula:
    return Formula(
        function=ejection_fraction,
        gives=gives,
        unit="%",
        takes={"edv_mL": edv, "esv_mL": esv},
        sources=("lang2015",),
        assumes=(assumes,),
        together=True,
    )


def _volume_index(gives: str, volume: str, assumes: str) -> Formula:
    return Formula(
        function=volume_by_surface,
        gives=gives,
        unit="mL/m2",
        takes={"volume_mL": volume, "bsa_m2": "BSA"},
        sources=("serres2008",),
        assumes=(assumes,),
    )


BODY = (
    Formula(
        function=dog_body_surface,
        gives="BSA",
        unit="m2",
        takes={"weight_kg": "weight"},
        sources=("price1998",),
        species=Species.DOG,
    ),
    Formula(
        function=cat_body_surface,
        gives="BSA",
        unit="m2",
        takes={"weight_kg": "weight"},
        sources=("price1998",),
        species=Species.CAT,
    ),
)

CHAMBERS = (
    Formula(
        function=fractional_shortening,
        gives="FS",
        unit="%",
        takes={"lvidd_cm": "LVIDd", "lvids_cm": "LVIDs"},
        sources=("nelsoncouto6",),
        together=True,
    ),
    _scaled("LVIDDN", "LVIDd", 0.294),
    _scaled("LVIDSN", "LVIDs", 0.315),
    _scaled("LVIDDN_0.33", "LVIDd", 0.33, "rishniwbrown2022"),
    _scaled("LVIDSN_0.33", "LVIDs", 0.33, "rishniwbrown2022"),
    _scaled("IVSdN", "IVSd", 0.241),
    _scaled("IVSsN", "IVSs", 0.240),
    _scaled("LVPWdN", "LVPWd", 0.232),
    _scaled("LVPWsN", "LVPWs", 0.222),
    _scaled("AoN_m-mode", "Ao @ m-mode", 0.341),
    _scaled("LAN_m-mode", "LA @ m-mode", 0.345),
    _ratio("LA:Ao", "LA @ 2-d", "Ao @ 2-d", "hansson2002", "rishniw2000"),
    _ratio("LA:Ao_m-mode", "LA @ m-mode", "Ao @ m-mode", "hansson2002"),
    _ratio("LAD:AoAnn", "LAD", "AoAnn", "strohm2018"),
    _ratio("LVIDd:AoAnn", "LVIDd @ long axis", "AoAnn", "strohm2018"),
    _ratio("LAD:LVIDd", "LAD", "LVIDd @ long axis", "strohm2018"),
    _ratio("PA:Ao", "PAd", "Ao @ 2-d", "visser2016"),
    *map(_echo_ratio, ("LVIDd", "LVIDs", "IVSd", "LVPWd", "EPSS")),
    Formula(
        function=sphericity_index,
        gives="sphericity",
        unit="1",
        takes={"lvld_cm": "LVLd", "lvidd_cm": "LVIDd"},
        sources=("holler2014",),
    ),
    Formula(
        function=relative_wall_thickness,
        gives="RWT",
        unit="1",
        takes={"lvpwd_cm": "LVPWd", "lvidd_cm": "LVIDd"},
        sources=("lang2015",),
        together=True,
    ),
    Formula(
        function=ventricular_mass,
        gives="LV_mass",
        unit="g",
        takes={"ivsd_cm": "IVSd", "lvidd_cm": "LVIDd", "lvpwd_cm": "LVPWd"},
        sources=("devereux1986",),
        assumes=(PEOPLE,),
        together=True,
    ),
    Formula(
        function=mass_by_weight,
        gives="LV_mass_index",
        unit="g/kg",
        takes={"mass_g": "LV_mass", "weight_kg": "weight"},
        sources=("devereux1986",),
        assumes=(PEOPLE,),
    ),
    Formula(
        function=fractional_area_change,
        gives="FAC_LV",
        unit="%",
        takes={"diastolic_cm2": "LVAd", "systolic_cm2": "LVAs"},
        sources=("visser2019",),
        together=True,
    ),
    Formula(
        function=annular_excursion_index,
        gives="TAPSEN",
        unit="{mm/kg^0.285}",
        takes={"excursion_mm": "TAPSE", "weight_kg": "weight"},
        constants={"exponent": 0.285},
        sources=("feldhutter2022",),
        species=Species.DOG,
    ),
)

VOLUMES = (
    _volume("EDV_Teichholz", {"diameter_cm": "LVIDd"}, TEICHHOLZ),
    _volume("ESV_Teichholz", {"diameter_cm": "LVIDs"}, TEICHHOLZ),
    _volume("EDV_area_length", {"area_cm2": "LVAd", "length_cm": "LVLd"}, AREA_LENGTH),
    _volume("ESV_area_length", {"area_cm2": "LVAs", "length_cm": "LVLs"}, AREA_LENGTH),
    _ejection("EF_discs", "EDV", "ESV", DISCS),
    _ejection("EF_area_length", "EDV_area_length", "ESV_area_length", AREA_LENGTH),
    _ejection("EF_Teichholz", "EDV_Teichholz", "ESV_Teichholz", TEICHHOLZ),
    _volume_index("EDVI", "EDV", DISCS),
    _volume_index("EDVI", "EDV_area_length", AREA_LENGTH),
    _volume_index("EDVI", "EDV_Teichholz", TEICHHOLZ),
    _volume_index("ESVI", "ESV", DISCS),
    _volume_index("ESVI", "ESV_area_length", AREA_LENGTH),
    _volume_index("ESVI", "ESV_Teichholz", TEICHHOLZ),
    Formula(
        function=volume_by_weight,
        gives="LAVI",
        unit="mL/kg",
        takes={"volume_mL": "LAVmax", "weight_kg": "weight"},
        sources=("hollmer2013",),
    ),
)
