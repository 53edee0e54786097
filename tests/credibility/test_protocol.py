"""Which views of a complete study are there, missing, or not credible."""

import pytest

from tableside.credibility.protocol import protocol
from tableside.credibility.views import protocols
from tableside.errors import NotFound
from tableside.model import (
    Axis,
    Beat,
    Check,
    Exam,
    Image,
    Measurement,
    Mode,
    Patient,
    ProtocolItem,
    Region,
    RegionKind,
    Species,
    Spread,
    Study,
    Verdict,
    quantity,
)

KIND = {
    Mode.TWO_D: RegionKind.TWO_D,
    Mode.COLOUR: RegionKind.COLOUR,
    Mode.M_MODE: RegionKind.M_MODE,
    Mode.SPECTRAL: RegionKind.SPECTRAL,
}


def image(file: str, mode: Mode, region_doubt: str | None = None, **labels: object) -> Image:
    axis = Axis(unit="cm", per_pixel=0.02)
    region = Region(
        index=0, kind=KIND[mode], box=(0, 0, 9, 9), x=axis, y=axis, doubt=region_doubt
    )
    return Image(file=file, mode=mode, rows=10, columns=10, regions=(region,), **labels)


def jet_image(file: str = "jet.dcm") -> Image:
    return image(file, Mode.SPECTRAL, flow="mitral regurgitation")


def number(quantity_id: str, value: float, file: str) -> Measurement:
    return Measurement(
        quantity=quantity_id,
        value=value,
        unit=quantity(quantity_id).unit,
        spread=Spread(trace=0.1),
        method="automatic",
        beats=(Beat(file=file, frame=0, value=value),),
    )


def check(about: str, unusable: float, verdict: Verdict = Verdict.FAILS) -> Check:
    return Check(
        id="mitral-jet-against-pressure",
        verdict=verdict,
        about=(about, "systolic pressure"),
        message="",
        probability_unusable=unusable,
    )


def exam(*images: Image, species: Species | None = Species.DOG, **fields: object) -> Exam:
    study = Study(patient=Patient(species=species), images=images)
    return Exam(study=study, **fields)


def item(items: tuple[ProtocolItem, ...], name: str) -> ProtocolItem:
    return next(one for one in items if one.view == name)


BASE = "right parasternal short axis, heart base"
JET = "mitral regurgitation"


def test_the_right_parasternal_views_of_the_recommendation_are_in_the_general_study() -> None:
    # thomas1993 (read in a translation): long axis inlet and outflow; short axis at the
    # papillary muscles, mitral valve, heart base and pulmonary arteries; left apical; cranial
    names = {one.name for one in protocols()["general"].items}
    assert {
        "right parasternal long axis, four chambers",
        "right parasternal long axis, left ventricular outflow",
        "right parasternal short axis, papillary muscles",
        "right parasternal short axis, mitral valve",
        BASE,
        "right parasternal short axis, pulmonary artery",
        "left apical, four chambers",
        "left cranial long axis, aorta",
    } <= names


def test_the_guideline_numbers_of_mitral_disease_each_have_an_item_in_the_recheck() -> None:
    # keene2019 stages by LA:Ao and the normalised left ventricular diameter
    numbers = {n for one in protocols()["mitral recheck"].items for n in one.numbers}
    assert {"LA", "Ao", "LVIDd", "MR_Vmax", "E"} <= numbers


def test_an_empty_study_lacks_everything() -> None:
    items = protocol(exam())
    assert {one.state for one in items} == {"missing"}
    assert {one.why for one in items} == {"no image of it"}
    assert len(items) == len(protocols()["general"].items)


def test_a_labelled_view_is_present_and_the_others_are_missing() -> None:
    items = protocol(exam(image("a.dcm", Mode.TWO_D, view=BASE)))
    assert item(items, BASE) == ProtocolItem(view=BASE, state="present")
    assert sum(one.state == "present" for one in items) == 1


def test_an_mmode_level_and_a_flow_are_found_by_their_own_labels() -> None:
    items = protocol(
        exam(
            image("a.dcm", Mode.M_MODE, mmode="left ventricle"),
            image("b.dcm", Mode.SPECTRAL, flow="mitral inflow"),
        )
    )
    assert [one.view for one in items if one.state == "present"] == [
        "M-mode, left ventricle",
        "mitral inflow",
    ]


def test_a_view_counts_on_a_picture_and_not_on_an_mmode_taken_from_it() -> None:
    items = protocol(exam(image("a.dcm", Mode.M_MODE, view=BASE, mmode="left ventricle")))
    assert item(items, BASE).state == "missing"


def test_colour_doppler_needs_a_colour_image() -> None:
    view = "left apical, four chambers"
    grey = protocol(exam(image("a.dcm", Mode.TWO_D, view=view)))
    colour = protocol(exam(image("a.dcm", Mode.COLOUR, view=view)))
    assert item(grey, "colour Doppler, mitral valve").state == "missing"
    assert item(colour, "colour Doppler, mitral valve").state == "present"
    assert item(colour, view).state == "present"


def test_images_without_a_label_are_mentioned_where_they_could_belong() -> None:
    items = protocol(exam(*(image(f"{i}.dcm", Mode.M_MODE) for i in range(3))))
    level = item(items, "M-mode, left ventricle")
    assert (level.state, level.why) == (
        "missing",
        "no image is labelled so; 3 images wait for a label",
    )
    assert item(items, "mitral inflow").why == "no image of it"


def test_a_doubted_image_is_there_but_not_credible() -> None:
    doubted = image("a.dcm", Mode.TWO_D, view=BASE, doubt="the ruler disagrees by 6 %")
    base = item(protocol(exam(doubted)), BASE)
    assert (base.state, base.why) == ("not credible", "a.dcm: the ruler disagrees by 6 %")


def test_a_doubted_region_is_there_but_not_credible() -> None:
    doubted = image("a.dcm", Mode.TWO_D, "it ends outside the picture", view=BASE)
    base = item(protocol(exam(doubted)), BASE)
    assert (base.state, base.why) == ("not credible", "a.dcm: it ends outside the picture")


def test_an_image_without_a_scale_is_not_credible() -> None:
    bare = Image(file="a.png", mode=Mode.UNKNOWN, rows=9, columns=9, view=BASE)
    base = item(protocol(exam(bare)), BASE)
    assert (base.state, base.why) == ("not credible", "a.png: the image carries no scale")


def test_one_good_image_beside_a_doubted_one_is_enough() -> None:
    doubted = image("a.dcm", Mode.TWO_D, view=BASE, doubt="shrunk")
    items = protocol(exam(doubted, image("b.dcm", Mode.TWO_D, view=BASE)))
    assert item(items, BASE).state == "present"


@pytest.mark.parametrize(
    ("unusable", "verdict", "state"),
    [
        (0.84, Verdict.FAILS, "not credible"),
        (0.84, Verdict.DOUBTFUL, "not credible"),
        (0.50, Verdict.FAILS, "present"),
        (0.84, Verdict.HOLDS, "present"),
        (0.84, Verdict.NOT_ASSESSED, "present"),
    ],
)
def test_a_sample_whose_only_number_is_unusable_is_not_credible(
    unusable: float, verdict: Verdict, state: str
) -> None:
    measured = (number("MR_Vmax", 2.9, "jet.dcm"),)
    items = protocol(
        exam(jet_image(), measurements=measured),
        [check("MR_Vmax", unusable, verdict)],
        "mitral recheck",
    )
    assert item(items, JET).state == state


def test_the_phrase_names_the_number_the_probability_and_the_law() -> None:
    measured = (number("MR_Vmax", 2.9, "jet.dcm"),)
    items = protocol(
        exam(jet_image(), measurements=measured),
        [check("MR_Vmax", 0.6), check("MR_Vmax", 0.84)],
        "mitral recheck",
    )
    assert item(items, JET).why == (
        "MR_Vmax is unusable with probability 0.84 (mitral jet against pressure)"
    )


def test_another_sound_number_keeps_the_sample() -> None:
    measured = (number("MR_Vmax", 2.9, "jet.dcm"), number("MR_VTI", 60.0, "jet.dcm"))
    items = protocol(
        exam(jet_image(), measurements=measured), [check("MR_Vmax", 0.9)], "mitral recheck"
    )
    assert item(items, JET).state == "present"


def test_a_check_that_blames_another_number_first_does_not_touch_the_sample() -> None:
    measured = (number("MR_Vmax", 5.6, "jet.dcm"),)
    items = protocol(
        exam(jet_image(), measurements=measured),
        [check("systolic pressure", 0.9)],
        "mitral recheck",
    )
    assert item(items, JET).state == "present"


def test_a_cat_gets_its_own_protocol_and_an_unknown_species_the_dogs() -> None:
    def names(species: Species | None) -> list[str]:
        return [one.view for one in protocol(exam(species=species))]

    assert names(Species.CAT) == [one.name for one in protocols()["cat"].items]
    assert names(None) == names(Species.DOG)


def test_an_unknown_protocol_lists_the_known_ones() -> None:
    with pytest.raises(NotFound, match="general, mitral recheck, cat"):
        protocol(exam(), (), "fish")
