import { areaPx } from "../geometry/shapes";
import type { ImagePoint } from "../geometry/spaces";

/** The scales of a region that an estimate needs. */
export interface Scales {
  readonly kind: string;
  readonly cm_per_column?: number | null;
  readonly cm_per_row?: number | null;
  readonly s_per_column?: number | null;
  readonly m_s_per_row?: number | null;
  readonly baseline_row?: number | null;
}

/**
 * What the eye sees while the hand moves, in the catalogue's unit: shown with "about" until the
 * server's own value is there, and never sent or saved.
 */
export function estimate(kind: string, points: readonly ImagePoint[], scales: Scales): number | null {
  const [a, b] = [points[0], points[points.length - 1]];
  if (a === undefined || b === undefined) return null;
  switch (kind) {
    case "length":
    case "lateral length":
      return length(a, b, scales);
    case "velocity":
      return velocity(points, scales);
    case "time":
      return times(Math.abs(b[0] - a[0]) * 1000, scales.s_per_column);
    case "rate": {
      const rr_s = times(Math.abs(b[0] - a[0]), scales.s_per_column);
      return rr_s === null || rr_s === 0 ? null : 60 / rr_s;
    }
    case "area":
      return times(times(areaPx(points), scales.cm_per_column), scales.cm_per_row);
    default:
      return null;
  }
}

function length(a: ImagePoint, b: ImagePoint, scales: Scales) {
  const down = times(Math.abs(b[1] - a[1]), scales.cm_per_row);
  if (scales.kind.endsWith("m-mode")) return down;
  const across = times(Math.abs(b[0] - a[0]), scales.cm_per_column);
  return down === null || across === null ? null : Math.hypot(across, down);
}

function velocity(points: readonly ImagePoint[], { baseline_row, m_s_per_row }: Scales) {
  if (baseline_row === null || baseline_row === undefined) return null;
  const rows = Math.max(...points.map((point) => Math.abs(point[1] - baseline_row)));
  return times(rows, m_s_per_row);
}

const times = (value: number | null, scale: number | null | undefined) =>
  value === null || scale === null || scale === undefined ? null : value * scale;
