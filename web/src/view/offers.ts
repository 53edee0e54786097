import type { Catalogue, Image, Quantity, Reading } from "../api/types";

const MOST = 6;

/** The quantities that this kind of image allows; an ECG may stand under any of them. */
export function possible(catalogue: Catalogue, image: Image): readonly Quantity[] {
  const hasEcg = image.regions.some((region) => region.kind === "ecg");
  const allows = (kind: string) => kind === image.mode || (hasEcg && kind === "ecg");
  return catalogue.quantities.filter((one) => one.places.some((place) => allows(place.region)));
}

/**
 * What to measure next on this image: what the protocol of the species expects of its label, in
 * the protocol's order; what is still missing goes first.
 */
export function offers(catalogue: Catalogue, reading: Reading, image: Image): readonly Quantity[] {
  const species = reading.patient.species ?? "dog";
  const expected = catalogue.protocols
    .filter((protocol) => protocol.species === species)
    .flatMap((protocol) => protocol.items)
    .filter((item) => item.labels.some((label) => [image.view, image.mmode, image.flow].includes(label)))
    .filter((item) => isOfKind(item.kind, image))
    .flatMap((item) => item.quantities);
  const there = new Set(reading.measurements.map((one) => one.quantity));
  const allowed = possible(catalogue, image);
  const wanted = [...new Set(expected)].flatMap((id) => allowed.find((one) => one.id === id) ?? []);
  return [...wanted.filter((one) => !there.has(one.id)), ...wanted.filter((one) => there.has(one.id))].slice(0, MOST);
}

function isOfKind(kind: string, image: Image) {
  if (kind === "mmode") return image.mmode !== null && image.mmode !== undefined;
  if (kind === "flow") return image.flow !== null && image.flow !== undefined;
  return image.mode === "2-d" || image.mode === "colour";
}
