import { imagePoint, type ImagePoint } from "./spaces";

export const distancePx = (a: ImagePoint, b: ImagePoint) => Math.hypot(b[0] - a[0], b[1] - a[1]);

/** Which of these points lies nearest, if one lies within `reach_px`. */
export function nearest(points: readonly ImagePoint[], at: ImagePoint, reach_px: number) {
  let best: { index: number; gap_px: number } | null = null;
  points.forEach((point, index) => {
    const gap_px = distancePx(point, at);
    if (gap_px <= reach_px && (best === null || gap_px < best.gap_px)) best = { index, gap_px };
  });
  return best as { index: number; gap_px: number } | null;
}

/** Area inside a closed outline, in square pixels (shoelace rule). */
export function areaPx(points: readonly ImagePoint[]) {
  let twice = 0;
  points.forEach((a, index) => {
    const b = points[(index + 1) % points.length] ?? a;
    twice += a[0] * b[1] - b[0] * a[1];
  });
  return Math.abs(twice) / 2;
}

/** The angle at `corner`, degrees, when one row is `aspect` times as tall as a column is wide. */
export function angleDegrees(a: ImagePoint, corner: ImagePoint, b: ImagePoint, aspect = 1) {
  const one = Math.atan2((a[1] - corner[1]) * aspect, a[0] - corner[0]);
  const other = Math.atan2((b[1] - corner[1]) * aspect, b[0] - corner[0]);
  const turn = Math.abs(one - other) % (2 * Math.PI);
  return (Math.min(turn, 2 * Math.PI - turn) * 180) / Math.PI;
}

/** Whether no two sides of an outline cross; neighbours may touch. */
export function isSimple(points: readonly ImagePoint[]) {
  const count = points.length;
  for (let i = 0; i < count; i += 1)
    for (let j = i + 2; j < count; j += 1) {
      if (i === 0 && j === count - 1) continue;
      if (crosses(side(points, i), side(points, j))) return false;
    }
  return true;
}

type Side = readonly [ImagePoint, ImagePoint];

const side = (points: readonly ImagePoint[], at: number) =>
  [points[at], points[(at + 1) % points.length]] as unknown as Side;

const turn = (a: ImagePoint, b: ImagePoint, c: ImagePoint) =>
  (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]);

const crosses = ([a, b]: Side, [c, d]: Side) =>
  turn(a, b, c) * turn(a, b, d) < 0 && turn(c, d, a) * turn(c, d, b) < 0;

/** Half an ellipse from one end of the annulus around the apex to the other: a first outline to drag. */
export function chamberOutline(
  one: ImagePoint,
  other: ImagePoint,
  apex: ImagePoint,
  count = 13,
): readonly ImagePoint[] {
  const base = [(one[0] + other[0]) / 2, (one[1] + other[1]) / 2] as const;
  const half = [(one[0] - other[0]) / 2, (one[1] - other[1]) / 2] as const;
  const axis = [apex[0] - base[0], apex[1] - base[1]] as const;
  return Array.from({ length: count }, (_, at) => {
    const angle = (Math.PI * at) / (count - 1);
    const [across, along] = [Math.cos(angle), Math.sin(angle)];
    return imagePoint(
      base[0] + half[0] * across + axis[0] * along,
      base[1] + half[1] * across + axis[1] * along,
    );
  });
}

/** Fewer points for the same line: none of those left out lies more than `slack_px` away. */
export function simplify(points: readonly ImagePoint[], slack_px: number): readonly ImagePoint[] {
  const [first, last] = [points[0], points[points.length - 1]];
  if (first === undefined || last === undefined || points.length < 3) return points;
  let [worst, at] = [0, 0];
  points.forEach((point, index) => {
    const gap = fromLine(point, first, last);
    if (gap > worst) [worst, at] = [gap, index];
  });
  if (worst <= slack_px) return [first, last];
  const before = simplify(points.slice(0, at + 1), slack_px);
  return [...before.slice(0, -1), ...simplify(points.slice(at), slack_px)];
}

function fromLine(p: ImagePoint, a: ImagePoint, b: ImagePoint) {
  const length = distancePx(a, b);
  return length === 0 ? distancePx(p, a) : Math.abs(turn(a, b, p)) / length;
}
