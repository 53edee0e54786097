"""A heart made of independent standard normals, one column each.

Every quantity of the contract is a function of the columns: sizes by body weight, volumes by
sizes, pressures, the jets that pressures drive, times by rate. What cannot be (a systolic
diameter above the diastolic, a leak above 1, a negative gradient) has no column values.
Constants and their sources: ``data/exam_model.toml``; why so: docs/exam-model.md.
"""

from collections.abc import Mapping
from math import log, pi

import numpy as np
from numpy.typing import NDArray

from tableside.credibility.exam_model.settings import Constants

Floats = NDArray[np.float64]

COLUMNS = (
    "weight", "LVIDd", "FS", "IVSd", "LVPWd", "Ao", "LA", "RF", "SBP", "LAP", "RAP", "TRPG",
    "PADP", "AS", "PS", "length", "strain", "thickening", "volume", "annulus", "E", "A", "DT",
    "IVRT", "E'", "A'", "S'", "HR", "ET", "PEP", "AT", "PAd", "TAPSE", "MAPSE", "EPSS",
)  # fmt: skip
AT = {name: column for column, name in enumerate(COLUMNS)}
FARTHEST = 12.0  # no draw of a standard normal lies beyond
LOWEST_DRIVE_MMHG = 1.0
STEEP = 3.0  # how sharply a tail sets in


def heart(columns: Floats, p: Constants) -> Mapping[str, Floats]:
    """Return every quantity, in its unit, of each row of standard normals.

    Parameters
    ----------
    columns : (n, len(COLUMNS))
        Standard normals.
    p : Mapping
        The constants of `settings.constants`.

    Returns
    -------
    Mapping
        By name, (n,) each: quantities of the contract without an instrument's error, indices,
        pressures in mmHg, RF as a share.
    """
    z = dict(zip(COLUMNS, np.clip(columns, -FARTHEST, FARTHEST).T, strict=True))
    s: dict[str, Floats] = {}
    _body(s, z, p)
    _ventricle(s, z, p)
    _volumes(s, z, p)
    _atrium(s, z, p)
    _pressures(s, z, p)
    _times(s, z, p)
    _flows(s, z, p)
    _jets(s, z, p)
    _excursions(s, z, p)
    return s


Columns = Mapping[str, Floats]
State = dict[str, Floats]


def _body(s: State, z: Columns, p: Constants) -> None:
    s["ln weight"] = log(p["weight.centre_kg"]) + p["weight.sd"] * z["weight"]
    s["weight"] = np.exp(s["ln weight"])
    leak = p["RF.logit"] + p["RF.sd"] * z["RF"]
    s["load"] = np.logaddexp(0.0, leak)  # -ln(1 - RF)
    s["RF"] = -np.expm1(-s["load"])


def _ventricle(s: State, z: Columns, p: Constants) -> None:
    cavity, septum = z["LVIDd"], -0.2 * z["LVIDd"] + 0.98 * z["IVSd"]
    wall = -0.2 * z["LVIDd"] + 0.47 * z["IVSd"] + 0.86 * z["LVPWd"]
    s["LVIDd"] = np.exp(
        _size(s, p, "LVIDd")
        + p["LVIDd.sd"] * cavity
        + p["LVIDd.tail"] * _beyond(cavity)
        + p.get("LVIDd.on_load", 0.0) * s["load"]
    )
    fs = (
        p["FS.logit"]
        + p["FS.sd"] * z["FS"]
        - p["FS.tail"] * _beyond(-z["FS"])
        + p.get("FS.on_load", 0.0) * s["load"]
    )
    s["FS share"] = _logistic(fs)
    s["FS"] = 100 * s["FS share"]
    s["LVIDs"] = s["LVIDd"] * _logistic(-fs)
    for name, part in (("IVSd", septum), ("LVPWd", wall)):
        off = p[f"wall.{name}.sd"] * part + p["wall.tail"] * _beyond(part)
        s[name] = np.exp(_size(s, p, f"wall.{name}") + off)
    _thickened(s, z, p)


def _thickened(s: State, z: Columns, p: Constants) -> None:
    """Walls in systole: the area of muscle shrinks only as the ventricle shortens."""
    strain = p["strain.centre"] + p["strain.sd"] * z["strain"]
    s["shortening"] = np.clip(1 + strain, 0.5, 1.0)
    before = 0.5 * (s["IVSd"] + s["LVPWd"])
    area = before * (s["LVIDd"] + before) / s["shortening"]
    after = 0.5 * (np.sqrt(s["LVIDs"] ** 2 + 4 * area) - s["LVIDs"])
    uneven = 0.5 * p["thickening.sd"] * z["thickening"]
    s["IVSs"] = s["IVSd"] * after / before * np.exp(uneven)
    s["LVPWs"] = s["LVPWd"] * after / before * np.exp(-uneven)


def _volumes(s: State, z: Columns, p: Constants) -> None:
    s["LVLd"] = s["LVIDd"] * np.exp(log(p["length.ratio"]) + p["length.sd"] * z["length"])
    s["LVLs"] = s["LVLd"] * s["shortening"]
    factor = pi / 6 * p["volume.factor"] * np.exp(p["volume.sd"] * z["volume"])
    s["EDV"] = factor * s["LVIDd"] ** 2 * s["LVLd"]
    s["ESV"] = factor * s["LVIDs"] ** 2 * s["LVLs"]
    s["LVAd"] = p["area.factor"] * s["LVIDd"] * s["LVLd"]
    s["LVAs"] = p["area.factor"] * s["LVIDs"] * s["LVLs"]
    s["SV total"] = s["EDV"] - s["ESV"]
    s["SV"] = s["SV total"] * np.exp(-s["load"])
    s["EF"] = 100 * s["SV total"] / s["EDV"]


def _atrium(s: State, z: Columns, p: Constants) -> None:
    aorta = 0.3 * z["LVIDd"] + 0.954 * z["Ao"]
    s["Ao"] = np.exp(_size(s, p, "Ao") + p["Ao.sd"] * aorta)
    s["AoAnn"] = s["Ao"] * np.exp(log(p["AoAnn.ratio"]) + p["AoAnn.sd"] * z["annulus"])
    s["LVOTd"] = s["AoAnn"] * p["LVOTd.ratio"]
    _filling_pressure(s, z, p)
    ratio = (
        log(p["LA:Ao.centre"])
        + p["LA:Ao.sd"] * z["LA"]
        + p["LA:Ao.tail"] * _beyond(z["LA"])
        + p.get("LA:Ao.on_load", 0.0) * s["load"]
        + p.get("LA:Ao.on_LAP", 0.0) * np.logaddexp(0.0, STEEP * s["ln LAP off"]) / STEEP
    )
    s["LA:Ao"] = np.exp(ratio)
    s["LA"] = s["LA:Ao"] * s["Ao"]
    s["LAD"] = p["LAD.ratio"] * s["LA"]
    s["LAA"] = p["LAA.factor"] * s["LAD"] ** 2
    s["LAVmax"] = p["LAV.factor"] * s["LAD"] ** 3
    s["LA m-mode"] = p["LA_m-mode.ratio"] * s["LA"]
    s["Ao m-mode"] = s["Ao"]


def _filling_pressure(s: State, z: Columns, p: Constants) -> None:
    off = p["LAP.sd"] * z["LAP"] + p.get("LAP.on_load", 0.0) * s["load"]
    s["ln LAP off"] = log(p["LAP.now_mmHg"] / p["LAP.centre_mmHg"]) + off
    s["LAP"] = p["LAP.centre_mmHg"] * np.exp(s["ln LAP off"])


def _pressures(s: State, z: Columns, p: Constants) -> None:
    s["SBP"] = _positive(p["SBP.now_mmHg"] + p["SBP.now_sd_mmHg"] * z["SBP"], 10.0)
    s["RAP"] = np.exp(log(p["RAP.now_mmHg"]) + p["RAP.sd"] * z["RAP"])
    s["TRPG"] = p["TRPG.centre_mmHg"] * np.exp(
        p["TRPG.sd"] * z["TRPG"] + p["TRPG.on_LAP"] * s["ln LAP off"]
    )
    s["PASP"] = s["RAP"] + s["TRPG"]
    s["PADP"] = s["PASP"] * _logistic(p["PADP.logit"] + p["PADP.sd"] * z["PADP"])
    s["PAMP"] = p["PAMP.slope"] * s["PASP"] + p["PAMP.offset_mmHg"]
    s["ln PASP off"] = np.log(s["PASP"] / (p["TRPG.centre_mmHg"] + p["RAP.centre_mmHg"]))


def _times(s: State, z: Columns, p: Constants) -> None:
    s["HR"] = p["HR.centre"] * np.exp(p["HR.sd"] * z["HR"])
    at_rate = p["ET.at_rest_ms"] + p.get("ET.on_HR", 0.0) * s["HR"]
    s["ET"] = _positive(at_rate, 15.0, 60.0) * np.exp(p["ET.sd"] * z["ET"])
    failing = np.log(s["FS share"] / _logistic(np.float64(p["FS.logit"])))
    s["ln FS off"] = np.maximum(failing, -5.0)
    s["PEP"] = p["PEP.centre_ms"] * np.exp(
        p.get("PEP.on_FS", 0.0) * s["ln FS off"] + p["PEP.sd"] * z["PEP"]
    )
    for name, column in (("DT", "DT"), ("IVRT", "IVRT")):
        slope = p.get(f"{name}.on_LAP", 0.0)
        off = slope * s["ln LAP off"] + p[f"{name}.sd"] * z[column]
        s[name] = p[f"{name}.centre_ms"] * np.exp(off)
    off = p.get("AT.on_PASP", 0.0) * s["ln PASP off"] + p["AT.sd"] * z["AT"]
    s["AT"] = p["AT.centre_ms"] * np.exp(off)


def _flows(s: State, z: Columns, p: Constants) -> None:
    s["E"] = p["E.centre_m_s"] * np.exp(
        p.get("E.on_LAP", 0.0) * s["ln LAP off"]
        + p.get("E.on_load", 0.0) * s["load"]
        + p["E.sd"] * z["E"]
    )
    s["A"] = p["A.centre_m_s"] * np.exp(p["A.sd"] * z["A"])
    off = p.get("PAd.on_PASP", 0.0) * s["ln PASP off"] + p["PAd.sd"] * z["PAd"]
    s["PAd"] = s["Ao"] * np.exp(log(p["PAd.ratio"]) + off)
    obstructed = _obstruction(z["AS"], p)
    area = 0.25 * pi * s["LVOTd"] ** 2
    unobstructed_cm = s["SV"] / area
    s["AV_VTI"] = unobstructed_cm * obstructed
    s["LVOT_Vmax"] = 10 * unobstructed_cm / (p["ejection.shape"] * s["ET"])
    s["AV_Vmax"] = s["LVOT_Vmax"] * obstructed
    s["AV_MG"] = p["AV_MG.factor"] * 4 * s["AV_Vmax"] ** 2
    pulmonic_cm = s["SV"] / (area * p["PV.area"])
    narrow = _obstruction(z["PS"], p)
    s["RVOT_Vmax"] = 10 * pulmonic_cm / (p["ejection.shape"] * s["ET"])
    s["PV_VTI"] = pulmonic_cm * narrow
    s["PV_Vmax"] = s["RVOT_Vmax"] * narrow
    s["PV_MG"] = p["AV_MG.factor"] * 4 * s["PV_Vmax"] ** 2


def _jets(s: State, z: Columns, p: Constants) -> None:
    """Peak speeds by the simplified Bernoulli relation."""
    peak = p["LVOT.peak_to_peak"]
    left = peak * 4 * (s["AV_Vmax"] ** 2 - s["LVOT_Vmax"] ** 2)
    right = peak * 4 * (s["PV_Vmax"] ** 2 - s["RVOT_Vmax"] ** 2)
    s["MR_Vmax"] = _jet(s["SBP"] + left - s["LAP"])
    s["TR_Vmax"] = _jet(s["TRPG"] + right)
    s["PR_Vmax"] = _jet(s["PAMP"] - s["RAP"])
    s["PR_Vend"] = _jet(s["PADP"] - s["RAP"])
    s["AR_Vmax"] = _jet(p["AR.share"] * s["SBP"] - 0.5 * s["LAP"])
    lasting_s = 1e-3 * (s["ET"] + p["MR_VTI.longer_ms"])
    s["MR_VTI"] = 100 * p["MR_VTI.factor"] * s["MR_Vmax"] * lasting_s
    for name in ("E'", "A'", "S'"):
        off = p.get(f"{name}.on_FS", 0.0) * s["ln FS off"] + p[f"{name}.sd"] * z[name]
        s[name] = p[f"{name}.centre_m_s"] * np.exp(off)


def _excursions(s: State, z: Columns, p: Constants) -> None:
    for name in ("TAPSE", "MAPSE"):
        off = p.get(f"{name}.on_FS", 0.0) * s["ln FS off"] + p[f"{name}.sd"] * z[name]
        s[name] = np.exp(_size(s, p, name) + off)
    off = p.get("EPSS.on_FS", 0.0) * s["ln FS off"] + p["EPSS.sd"] * z["EPSS"]
    s["EPSS"] = p["EPSS.ratio"] * s["LVIDd"] * np.exp(off)
    s["LVIDDN"] = s["LVIDd"] * np.exp(-0.294 * s["ln weight"])
    s["LVIDDN_0.33"] = s["LVIDd"] * np.exp(-0.33 * s["ln weight"])
    s["LVIDSN"] = s["LVIDs"] * np.exp(-0.315 * s["ln weight"])


def _size(s: State, p: Constants, name: str) -> Floats:
    return log(p[f"{name}.centre_cm"]) + p[f"{name}.exponent"] * s["ln weight"]


def _beyond(z: Floats) -> Floats:
    """Return how far a normal lies beyond 1, smoothly: the heavier tail of disease."""
    return np.asarray(np.logaddexp(0.0, STEEP * (z - 1.0)) / STEEP)


def _obstruction(z: Floats, p: Constants) -> Floats:
    """Return the factor by which an outflow is sped up; 1 in most animals."""
    past = np.logaddexp(0.0, 6.0 * (z - p["stenosis.shift"])) / 6.0
    return np.asarray(np.exp(p["stenosis.tail"] * np.minimum(past, 2.5)))


def _jet(drive_mmHg: Floats) -> Floats:
    return np.sqrt(_positive(drive_mmHg, 3.0, LOWEST_DRIVE_MMHG) / 4.0)


def _positive(value: Floats, soft: float, least: float = 0.0) -> Floats:
    return np.asarray(least + soft * np.logaddexp(0.0, (value - least) / soft))


def _logistic(x: Floats | np.float64) -> Floats:
    return np.asarray(0.5 * (1 + np.tanh(0.5 * x)))
