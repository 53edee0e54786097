import type { Beat, Catalogue, Image, Measurement, Pair, Reading, Region } from "../api/types";
import type { Ink } from "../draw/inks";
import type { Mark } from "../draw/marks";
import { savedPoint, type ImagePoint } from "../geometry/spaces";
import { toolFor, wayFor } from "../tools/choose";
import type { Handle } from "../tools/drag";
import type { Join } from "../tools/tool";

/** Which number, and which of its beats. */
export interface Owner {
  readonly measurement: string;
  readonly beat: string;
}

export interface Chosen {
  readonly measurement: string;
  readonly beat: string | null;
}

/** What is on one frame of one image. */
export interface Place {
  readonly reading: Reading;
  readonly catalogue: Catalogue;
  readonly image: Image;
  readonly frame: number;
}

export interface Drawn {
  readonly owner: Owner;
  readonly measurement: Measurement;
  readonly beat: Beat;
  readonly points: readonly ImagePoint[];
  readonly join: Join;
  readonly way: Handle<Owner>["way"];
}

const MOST_LOOSE_HANDLES = 10; // more handles than this hide what they lie on

/** Points that a hand has put elsewhere and the server has not confirmed, by beat. */
export type Elsewhere = ReadonlyMap<string, readonly ImagePoint[]>;

export function drawnOn(place: Place, elsewhere: Elsewhere): readonly Drawn[] {
  const { reading, image, frame } = place;
  return reading.measurements.flatMap((measurement) =>
    measurement.beats
      .filter((beat) => beat.n === image.n && beat.frame === frame && beat.points.length > 0)
      .map((beat) => draw(place, measurement, beat, elsewhere)),
  );
}

function draw(place: Place, measurement: Measurement, beat: Beat, elsewhere: Elsewhere): Drawn {
  const points = elsewhere.get(beat.id) ?? beat.points.map(savedPoint);
  const kind = kindOf(place.catalogue, measurement.quantity);
  const region = regionAt(place.image, beat.points[0])?.kind ?? place.image.mode;
  const tool = toolFor(measurement.quantity, kind, region);
  return {
    owner: { measurement: measurement.id, beat: beat.id },
    measurement,
    beat,
    points,
    join: points.length > 2 && tool?.join === "mark" ? "line" : (tool?.join ?? "line"),
    way: wayFor(measurement.quantity, kind, region),
  };
}

export const kindOf = (catalogue: Catalogue, quantity: string) =>
  catalogue.quantities.find((one) => one.id === quantity)?.kind ?? "length";

/** The smallest region that holds a point: regions nest and overlap. */
export function regionAt(image: Image, point: Pair | ImagePoint | undefined): Region | null {
  if (point === undefined) return null;
  const holding = image.regions.filter(
    ({ box: [left, top, right, bottom] }) =>
      point[0] >= left - 0.5 && point[0] <= right + 0.5 && point[1] >= top - 0.5 && point[1] <= bottom + 0.5,
  );
  const area = ({ box }: Region) => (box[2] - box[0]) * (box[3] - box[1]);
  return holding.sort((a, b) => area(a) - area(b))[0] ?? null;
}

/** The region that an image is mainly measured on. */
export const mainRegion = (image: Image): Region | null =>
  image.regions.find((region) => region.kind === image.mode) ?? image.regions[0] ?? null;

export const handlesOf = (drawn: readonly Drawn[], chosen: Chosen | null): readonly Handle<Owner>[] =>
  [...drawn].sort((a, b) => Number(isChosen(b, chosen)) - Number(isChosen(a, chosen)));

const isChosen = (one: Drawn, chosen: Chosen | null) => one.owner.measurement === chosen?.measurement;

export function marksOf(
  drawn: readonly Drawn[],
  chosen: Chosen | null,
  held: { readonly owner: Owner; readonly index: number } | null,
): readonly Mark[] {
  const hasFew = drawn.reduce((sum, one) => sum + one.points.length, 0) <= MOST_LOOSE_HANDLES;
  const marks = drawn.map((one) => {
    const isMine = isChosen(one, chosen);
    const isThis = isMine && (chosen?.beat === null || chosen?.beat === one.owner.beat);
    return {
      points: one.points,
      join: one.join,
      ink: inkOf(one, isMine),
      handles: isMine || hasFew,
      isByHand: wasByHand(one),
      isStrong: isThis,
      label: isThis && chosen?.beat !== null ? one.measurement.quantity : undefined,
      held: held?.owner.beat === one.owner.beat && held.owner.measurement === one.owner.measurement ? held.index : undefined,
    };
  });
  return marks.sort((a, b) => Number(a.ink === "chosen") - Number(b.ink === "chosen"));
}

function inkOf(one: Drawn, isMine: boolean): Ink {
  if (!one.beat.used) return "left_out";
  if (isMine) return "chosen";
  return wasByHand(one) ? "hand" : "automatic";
}

const wasByHand = ({ beat, measurement }: Drawn) => beat.by_hand || measurement.method === "caliper";

/** The lines that the program followed, under everything else. */
export const tracesOn = ({ reading, image, frame }: Place): readonly Mark[] =>
  reading.traces
    .filter((trace) => trace.file === image.file && trace.frame === frame)
    .map((trace) => ({
      points: trace.points.map(savedPoint), join: "trace" as const, ink: "trace" as const, handles: false,
    }));
