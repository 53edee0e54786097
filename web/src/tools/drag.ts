import { nearest } from "../geometry/shapes";
import { imagePoint, type ImagePoint } from "../geometry/spaces";

/** A drawn shape whose points may be dragged. */
export interface Handle<Owner> {
  readonly owner: Owner;
  readonly points: readonly ImagePoint[];
  /** Which way its points may go. */
  readonly way: "free" | "upright" | "level";
}

export interface Grip<Owner> {
  readonly owner: Owner;
  readonly index: number;
  readonly from: ImagePoint;
  readonly at: ImagePoint;
  readonly way: Handle<Owner>["way"];
}

/** Take hold of the nearest point within reach, or of nothing. */
export function grip<Owner>(
  handles: readonly Handle<Owner>[],
  at: ImagePoint,
  reach_px: number,
): Grip<Owner> | null {
  let best: (Grip<Owner> & { gap_px: number }) | null = null;
  for (const { owner, points, way } of handles) {
    const hit = nearest(points, at, reach_px);
    const from = hit === null ? undefined : points[hit.index];
    if (hit === null || from === undefined) continue;
    if (best === null || hit.gap_px < best.gap_px)
      best = { owner, index: hit.index, from, at: from, way, gap_px: hit.gap_px };
  }
  return best;
}

/** Move what is held. The grip keeps the offset of the hand, so that nothing jumps. */
export function drag<Owner>(held: Grip<Owner>, pressed: ImagePoint, to: ImagePoint): Grip<Owner> {
  const x = held.from[0] + to[0] - pressed[0];
  const y = held.from[1] + to[1] - pressed[1];
  return { ...held, at: along(held.way, held.from, imagePoint(x, y)) };
}

/** Move what is held by a step of the keyboard. */
export const nudge = <Owner>(held: Grip<Owner>, dx: number, dy: number): Grip<Owner> => ({
  ...held,
  at: along(held.way, held.at, imagePoint(held.at[0] + dx, held.at[1] + dy)),
});

/** The shape's points with the held one where it is now. */
export const moved = <Owner>(points: readonly ImagePoint[], held: Grip<Owner>) =>
  points.map((point, index) => (index === held.index ? held.at : point));

function along(way: Grip<unknown>["way"], from: ImagePoint, to: ImagePoint) {
  if (way === "upright") return imagePoint(from[0], to[1]);
  if (way === "level") return imagePoint(to[0], from[1]);
  return to;
}
